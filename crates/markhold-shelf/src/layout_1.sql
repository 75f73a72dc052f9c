CREATE TABLE evenings (
    id       INTEGER PRIMARY KEY,
    begin_ms INTEGER NOT NULL,
    end_ms   INTEGER,            -- NULL while it is being kept
    zone     TEXT    NOT NULL,   -- of the station: an IANA name or an offset
    input    TEXT    NOT NULL,
    settings TEXT    NOT NULL,   -- JSON
    folder   TEXT    NOT NULL UNIQUE
) STRICT;
CREATE INDEX evenings_begin ON evenings (begin_ms);

CREATE TABLE segments (
    id         INTEGER PRIMARY KEY,
    evening    INTEGER NOT NULL REFERENCES evenings,
    number     INTEGER NOT NULL,
    file       TEXT    NOT NULL, -- in the evening's folder
    begin_s    REAL    NOT NULL,
    rate       INTEGER NOT NULL,
    samples    INTEGER NOT NULL,
    bytes      INTEGER NOT NULL,
    removed_ms INTEGER,          -- when it made room for later sound
    UNIQUE (evening, number)
) STRICT;
CREATE INDEX segments_there ON segments (evening, number) WHERE removed_ms IS NULL;

CREATE TABLE gaps (
    id       INTEGER PRIMARY KEY,
    evening  INTEGER NOT NULL REFERENCES evenings,
    begin_s  REAL    NOT NULL,
    length_s REAL    NOT NULL,
    cause    TEXT    NOT NULL,
    UNIQUE (evening, begin_s, cause)
) STRICT;

CREATE TABLE readings (
    id         INTEGER PRIMARY KEY,
    evening    INTEGER NOT NULL REFERENCES evenings,
    made_ms    INTEGER NOT NULL,
    receiver   TEXT    NOT NULL,
    settings   TEXT    NOT NULL, -- JSON
    live       INTEGER NOT NULL,
    whole      INTEGER NOT NULL, -- heard all sound of the evening
    finished   INTEGER NOT NULL,
    heard_s    REAL    NOT NULL,
    characters INTEGER NOT NULL,
    doubtful   INTEGER NOT NULL
) STRICT;
CREATE INDEX readings_evening ON readings (evening);

-- The latest reading of the whole evening; the live one until there is a better one.
CREATE VIEW best_readings AS
    SELECT evening,
           coalesce(max(CASE WHEN finished AND whole THEN id END), min(id)) AS reading
    FROM readings GROUP BY evening;

CREATE TABLE signals (
    id      INTEGER PRIMARY KEY,
    reading INTEGER NOT NULL REFERENCES readings,
    number  INTEGER NOT NULL,
    UNIQUE (reading, number)
) STRICT;

CREATE TABLE measurements (
    signal           INTEGER NOT NULL REFERENCES signals,
    final            INTEGER NOT NULL, -- 0 when found, 1 when ended
    begin_s          REAL,             -- what was no number is NULL
    until_s          REAL,
    mark_hz          REAL,
    space_hz         REAL,
    shift_hz         REAL,
    usual_shift_hz   REAL,
    rate_baud        REAL,
    usual_rate_baud  REAL,
    mark_is_higher   INTEGER NOT NULL,
    stop_units       REAL,
    es_n0_db         REAL,
    snr_3khz_db      REAL,
    drift_hz         REAL,
    drift_hz_per_min REAL,
    PRIMARY KEY (signal, final)
) STRICT, WITHOUT ROWID;

CREATE TABLE lines (
    id         INTEGER PRIMARY KEY, -- 1024 * (when heard, Unix ms) + 0, 1, ..: in order of time
    signal     INTEGER NOT NULL REFERENCES signals,
    number     INTEGER NOT NULL,
    begin_s    REAL    NOT NULL,
    end_s      REAL    NOT NULL,
    text       TEXT    NOT NULL, -- as printed
    characters INTEGER NOT NULL,
    doubtful   INTEGER NOT NULL,
    closed     INTEGER NOT NULL, -- nothing more will be added
    details    BLOB    NOT NULL, -- every character, see details.rs
    UNIQUE (signal, number)
) STRICT;
CREATE INDEX lines_open ON lines (signal) WHERE NOT closed;

-- A line is indexed once, when it is closed.
CREATE VIEW closed_lines AS SELECT id, text FROM lines WHERE closed;
CREATE VIRTUAL TABLE words USING fts5(text, content = 'closed_lines', content_rowid = 'id');
CREATE TRIGGER lines_added AFTER INSERT ON lines WHEN NEW.closed BEGIN
    INSERT INTO words (rowid, text) VALUES (NEW.id, NEW.text);
END;
CREATE TRIGGER lines_closed AFTER UPDATE ON lines WHEN NEW.closed AND NOT OLD.closed BEGIN
    INSERT INTO words (rowid, text) VALUES (NEW.id, NEW.text);
END;
