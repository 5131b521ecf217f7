-- Each word in which a case is sought, so that other cases of the same patient are found without a look at all cases.
-- Own words of the surgeon carry their reason within the record (`own_words.rs`).

CREATE TABLE sought_word (
  word TEXT NOT NULL,
  case_id INTEGER NOT NULL REFERENCES kept_case (id) ON DELETE CASCADE,
  PRIMARY KEY (word, case_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX sought_word_case ON sought_word (case_id);

-- A word is letters and digits alone.
CREATE VIEW sought_word_of_case AS
SELECT DISTINCT value AS word, kept_case.id AS case_id
FROM kept_case, json_each('["' || replace(kept_case.sought, ' ', '","') || '"]')
WHERE value <> '';

INSERT INTO sought_word SELECT * FROM sought_word_of_case;

CREATE TRIGGER kept_case_sought_added AFTER INSERT ON kept_case BEGIN
  INSERT INTO sought_word SELECT * FROM sought_word_of_case WHERE case_id = new.id;
END;

CREATE TRIGGER kept_case_sought_changed AFTER UPDATE OF sought ON kept_case WHEN new.sought <> old.sought BEGIN
  DELETE FROM sought_word WHERE case_id = new.id;
  INSERT INTO sought_word SELECT * FROM sought_word_of_case WHERE case_id = new.id;
END;
