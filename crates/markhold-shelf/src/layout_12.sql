-- What a sked told of the dial by itself: it counts once that run was kept. NULL: a person told it.
ALTER TABLE dial_found ADD COLUMN sked      INTEGER;
ALTER TABLE dial_found ADD COLUMN begins_ms INTEGER;

-- Where the dial stood from when on; the latest counts.
CREATE TABLE dial_stands (
    at_ms  INTEGER PRIMARY KEY,
    khz    REAL,               -- NULL: not known
    on_ms  INTEGER,            -- when the receiver was switched on, where known
    by     TEXT NOT NULL       -- 'person' or 'radio'
) STRICT;

-- Bulletins that are to go to paper.
CREATE TABLE sked_prints (
    sked      INTEGER NOT NULL,
    begins_ms INTEGER NOT NULL,
    machine   TEXT    NOT NULL,
    state     TEXT    NOT NULL,            -- 'waiting', 'printed' or 'given-up'
    why       TEXT    NOT NULL DEFAULT '', -- what it waits for, or why it was given up
    PRIMARY KEY (sked, begins_ms)
) STRICT;
