-- Whose evening it is, and its number there, where it was made again from a folder that came
-- from another archive; NULL = this one's own.
ALTER TABLE evenings ADD COLUMN station INTEGER;
ALTER TABLE evenings ADD COLUMN station_number INTEGER;
