-- Until where the receiver had heard the sound when this was written; what lies between it and
-- heard_s is to be copied again.
ALTER TABLE readings ADD COLUMN copied_s REAL NOT NULL DEFAULT 0;
UPDATE readings SET copied_s = heard_s;

-- From here on a reading that begins with the live copy was copied again; NULL for one piece.
ALTER TABLE readings ADD COLUMN again_from_s REAL;

-- How often it was begun to be copied again by itself.
ALTER TABLE readings ADD COLUMN tries INTEGER NOT NULL DEFAULT 0;

-- The computer's clock was put forward by by_s (back, below 0). Times of the evening go on as
-- before.
CREATE TABLE clock_steps (
    id      INTEGER PRIMARY KEY,
    evening INTEGER NOT NULL REFERENCES evenings,
    at_s    REAL    NOT NULL,
    by_s    REAL    NOT NULL,
    UNIQUE (evening, at_s)
) STRICT;
