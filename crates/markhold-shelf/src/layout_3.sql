-- Whose archive this is: a name drawn by chance, so that what several stations kept can be
-- told apart.
CREATE TABLE station (
    id   INTEGER PRIMARY KEY CHECK (id = 1),
    name INTEGER NOT NULL
) STRICT;
INSERT INTO station (id, name) VALUES (1, random());
