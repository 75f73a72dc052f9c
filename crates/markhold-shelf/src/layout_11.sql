-- Evenings that are to be copied again, each once, by any number of workers.
CREATE TABLE work (
    evening  INTEGER PRIMARY KEY,
    settings TEXT NOT NULL,     -- how the receiver is set, as JSON
    worker   TEXT,              -- who has taken it
    until_ms INTEGER,           -- and until when it is that one's, unless it says that it is at it
    tries    INTEGER NOT NULL DEFAULT 0,
    reading  INTEGER,           -- what came of it, once stored
    why      TEXT               -- why it was given up
) STRICT;

-- By the signal alone: what language is sure of besides tells nothing of the copy.
UPDATE readings SET certainty = NULL;

-- What a person chose; else of the readings of the whole evening by a receiver the latest of those
-- that are as sure of themselves as the surest, less one character; the live one until there is one.
DROP VIEW best_readings;
CREATE VIEW best_readings AS
    WITH candidates AS (
        SELECT id, evening, coalesce(certainty, -1e9) AS certainty FROM readings
        WHERE finished AND whole AND corrects IS NULL)
    SELECT e.id AS evening,
           coalesce((SELECT r.id FROM readings r WHERE r.evening = e.id AND r.id = e.chosen),
                    (SELECT max(c.id) FROM candidates c
                     WHERE c.evening = e.id AND c.certainty >=
                           (SELECT max(o.certainty) FROM candidates o WHERE o.evening = e.id) - 1),
                    (SELECT min(r.id) FROM readings r WHERE r.evening = e.id)) AS reading
    FROM evenings e WHERE EXISTS (SELECT 1 FROM readings r WHERE r.evening = e.id);
