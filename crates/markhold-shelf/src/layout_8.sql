-- The reading that a person corrected to make this one; NULL = a receiver made it.
ALTER TABLE readings ADD COLUMN corrects INTEGER;

-- The reading that a person chose to stand; NULL = the rule of the view.
ALTER TABLE evenings ADD COLUMN chosen INTEGER;

-- What a person chose; else the latest reading of the whole evening by a receiver; the live one
-- until there is one.
DROP VIEW best_readings;
CREATE VIEW best_readings AS
    SELECT r.evening,
           coalesce(max(CASE WHEN r.id = e.chosen THEN r.id END),
                    max(CASE WHEN r.finished AND r.whole AND r.corrects IS NULL THEN r.id END),
                    min(r.id)) AS reading
    FROM readings r JOIN evenings e ON e.id = r.evening GROUP BY r.evening;
