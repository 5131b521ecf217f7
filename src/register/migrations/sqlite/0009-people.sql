-- Who was added, changed or taken out is bound into the ledger: `number` is that of the row which tells of it. Who stood in
-- `person` is brought over before `person_before` goes (`adopted.rs`).

ALTER TABLE person RENAME TO person_before;

CREATE TABLE person (
  name TEXT NOT NULL PRIMARY KEY,
  role TEXT NOT NULL CHECK (role IN ('desk', 'nurse', 'surgeon')),
  passphrase TEXT NOT NULL,
  number INTEGER NOT NULL UNIQUE REFERENCES ledger (number)
) STRICT;

CREATE TRIGGER person_stands_in_the_ledger BEFORE INSERT ON person
WHEN NOT EXISTS (SELECT 1 FROM ledger WHERE number = NEW.number AND kind = 'person')
BEGIN SELECT RAISE(ABORT, 'a change of a person stands in the ledger first'); END;

CREATE TRIGGER person_changes_by_the_ledger BEFORE UPDATE ON person
WHEN NEW.number <= OLD.number OR NOT EXISTS (SELECT 1 FROM ledger WHERE number = NEW.number AND kind = 'person')
BEGIN SELECT RAISE(ABORT, 'a change of a person stands in the ledger first'); END;
