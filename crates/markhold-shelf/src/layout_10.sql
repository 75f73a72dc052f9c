-- What a sked sends, as far as it is known by all copies that were kept of it. `made_of`: the
-- signals it was made of, as [[evening, signal], ...]; `known`: everything of it, as JSON.
CREATE TABLE known (
    sked    INTEGER PRIMARY KEY,
    made_of TEXT NOT NULL,
    known   TEXT NOT NULL
) STRICT;
