-- How many characters language made others, or would have; NULL where that was not kept.
ALTER TABLE readings ADD COLUMN changed INTEGER;
ALTER TABLE lines ADD COLUMN changed INTEGER;

-- The length of a gap may not be known: NULL.
CREATE TABLE gaps_2 (
    id       INTEGER PRIMARY KEY,
    evening  INTEGER NOT NULL REFERENCES evenings,
    begin_s  REAL    NOT NULL,
    length_s REAL,
    cause    TEXT    NOT NULL,
    UNIQUE (evening, begin_s, cause)
) STRICT;
INSERT INTO gaps_2 SELECT id, evening, begin_s, length_s, cause FROM gaps;
DROP TABLE gaps;
ALTER TABLE gaps_2 RENAME TO gaps;

-- 0: nothing is learned from this evening.
ALTER TABLE evenings ADD COLUMN teaches INTEGER NOT NULL DEFAULT 1;

-- What the copy taught; made from the lines, so that it can always be made again.
CREATE TABLE learned (
    id         INTEGER PRIMARY KEY CHECK (id = 1),
    made_ms    INTEGER NOT NULL,
    readings   TEXT    NOT NULL, -- JSON: those it was made from
    words      INTEGER NOT NULL,
    characters INTEGER NOT NULL,
    counts     BLOB    NOT NULL
) STRICT;
