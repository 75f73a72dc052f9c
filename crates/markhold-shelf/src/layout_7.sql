-- What was sent from here, a line each, as it went out.
CREATE TABLE sent (
    id      INTEGER PRIMARY KEY, -- 1024 * (when it began, Unix ms) + 0, 1, ..: in order of time
    evening INTEGER NOT NULL REFERENCES evenings,
    number  INTEGER NOT NULL,
    at_s    REAL    NOT NULL,
    text    TEXT    NOT NULL,
    UNIQUE (evening, number)
) STRICT;

CREATE VIRTUAL TABLE sent_words USING fts5(text, content = 'sent', content_rowid = 'id');
CREATE TRIGGER sent_added AFTER INSERT ON sent BEGIN
    INSERT INTO sent_words (rowid, text) VALUES (NEW.id, NEW.text);
END;
CREATE TRIGGER sent_grown AFTER UPDATE OF text ON sent BEGIN
    INSERT INTO sent_words (sent_words, rowid, text) VALUES ('delete', OLD.id, OLD.text);
    INSERT INTO sent_words (rowid, text) VALUES (NEW.id, NEW.text);
END;
CREATE TRIGGER sent_gone AFTER DELETE ON sent BEGIN
    INSERT INTO sent_words (sent_words, rowid, text) VALUES ('delete', OLD.id, OLD.text);
END;
