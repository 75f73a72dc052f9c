-- Characters expected to be right less those expected to be wrong: sum of 2 p - 1. NULL = of a
-- reading that is not finished, or a person's.
ALTER TABLE readings ADD COLUMN certainty REAL;

-- What a person chose; else of the readings of the whole evening by a receiver the one that is
-- surest of itself, of two alike the later; the live one until there is one.
DROP VIEW best_readings;
CREATE VIEW best_readings AS
    SELECT e.id AS evening,
           coalesce((SELECT r.id FROM readings r WHERE r.evening = e.id AND r.id = e.chosen),
                    (SELECT r.id FROM readings r
                     WHERE r.evening = e.id AND r.finished AND r.whole AND r.corrects IS NULL
                     ORDER BY r.certainty DESC NULLS LAST, r.id DESC LIMIT 1),
                    (SELECT min(r.id) FROM readings r WHERE r.evening = e.id)) AS reading
    FROM evenings e WHERE EXISTS (SELECT 1 FROM readings r WHERE r.evening = e.id);
