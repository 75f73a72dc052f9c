-- Scheduled transmissions: what a person entered, as markhold-skeds writes it (JSON with its
-- version). An id is never given twice, so that what it names elsewhere stays what it was.
CREATE TABLE skeds (
    id   INTEGER PRIMARY KEY AUTOINCREMENT,
    form TEXT NOT NULL
) STRICT;

-- What became of each time that one was due. It stays when the sked is removed.
CREATE TABLE sked_runs (
    sked      INTEGER NOT NULL,
    begins_ms INTEGER NOT NULL,          -- when it was due
    ends_ms   INTEGER NOT NULL,
    title     TEXT    NOT NULL,          -- as it was called then
    shift_hz  REAL,                      -- what it was held to, where known
    rate_baud REAL,
    mark      TEXT,                      -- higher, lower
    state     TEXT    NOT NULL,          -- open, kept, missed
    cause     TEXT    NOT NULL,
    last_ms   INTEGER,                   -- when it was last heard
    kept_in   TEXT    NOT NULL,          -- JSON: evenings, each with numbers of signals
    PRIMARY KEY (sked, begins_ms)
) STRICT;
CREATE INDEX sked_runs_begin ON sked_runs (begins_ms);

-- When skeds were last looked after.
CREATE TABLE watched (
    id        INTEGER PRIMARY KEY CHECK (id = 1),
    looked_ms INTEGER NOT NULL
) STRICT;

-- How much too high the dial read, each time that was found from a transmission of known frequency.
CREATE TABLE dial_found (
    id            INTEGER PRIMARY KEY,
    at_ms         INTEGER NOT NULL,
    night         TEXT    NOT NULL,      -- what belongs to one evening
    band          INTEGER NOT NULL,      -- whole megahertz
    minutes_on    REAL,                  -- since the receiver was switched on, where known
    reads_high_hz REAL    NOT NULL
) STRICT;
CREATE INDEX dial_found_night ON dial_found (night, band, at_ms);
