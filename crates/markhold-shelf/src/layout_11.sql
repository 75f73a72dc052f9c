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
