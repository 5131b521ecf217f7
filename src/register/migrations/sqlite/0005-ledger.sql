-- The ledger: one row for each thing that was kept for good, each bound to the one before it by its hash. What it says stands
-- beside it with a salt, in the one table from which an erasure takes away; the ledger holds only a commitment to it.
-- What stood in `revision`, `issue` and `issued_file` is brought over before these go (`migrations.rs`).

CREATE TABLE ledger (
  number INTEGER NOT NULL PRIMARY KEY,
  kind TEXT NOT NULL,
  case_id INTEGER REFERENCES kept_case (id),
  part_of INTEGER REFERENCES ledger (number),
  at TEXT NOT NULL,
  commitment TEXT NOT NULL,
  hash TEXT NOT NULL UNIQUE
) STRICT;
CREATE INDEX ledger_case ON ledger (case_id, kind);
CREATE INDEX ledger_part ON ledger (part_of);

CREATE TABLE payload (
  number INTEGER NOT NULL PRIMARY KEY REFERENCES ledger (number),
  salt BLOB NOT NULL,
  body BLOB NOT NULL
) STRICT;

-- Rows whose payload was erased, and the row that says by whom and why.
CREATE TABLE erased (
  number INTEGER NOT NULL PRIMARY KEY REFERENCES ledger (number),
  erasure INTEGER NOT NULL REFERENCES ledger (number)
) STRICT;

-- A case of which everything was erased keeps its code, so that nobody is given it again.
ALTER TABLE kept_case ADD COLUMN erased INTEGER NOT NULL DEFAULT 0;

DROP TRIGGER outcome_is_not_taken_out;
CREATE TRIGGER outcome_goes_by_erasure_alone BEFORE DELETE ON outcome
WHEN NOT EXISTS (SELECT 1 FROM kept_case WHERE id = OLD.case_id AND erased = 1)
BEGIN SELECT RAISE(ABORT, 'an outcome is never taken out: add one that is withdrawn'); END;

CREATE TRIGGER ledger_grows_at_its_end BEFORE INSERT ON ledger
WHEN NEW.number <> (SELECT coalesce(max(number), 0) + 1 FROM ledger)
BEGIN SELECT RAISE(ABORT, 'the ledger grows at its end alone'); END;

CREATE TRIGGER ledger_never_changes BEFORE UPDATE ON ledger
BEGIN SELECT RAISE(ABORT, 'the ledger never changes'); END;

CREATE TRIGGER ledger_never_shrinks BEFORE DELETE ON ledger
BEGIN SELECT RAISE(ABORT, 'the ledger never changes'); END;

CREATE TRIGGER payload_comes_once BEFORE INSERT ON payload
WHEN EXISTS (SELECT 1 FROM payload WHERE number = NEW.number) OR EXISTS (SELECT 1 FROM erased WHERE number = NEW.number)
BEGIN SELECT RAISE(ABORT, 'what was kept for good never changes'); END;

CREATE TRIGGER payload_never_changes BEFORE UPDATE ON payload
BEGIN SELECT RAISE(ABORT, 'what was kept for good never changes'); END;

CREATE TRIGGER payload_goes_by_erasure_alone BEFORE DELETE ON payload
WHEN NOT EXISTS (SELECT 1 FROM erased WHERE number = OLD.number)
BEGIN SELECT RAISE(ABORT, 'what was kept for good goes by an erasure alone'); END;

CREATE TRIGGER erased_names_an_erasure BEFORE INSERT ON erased
WHEN EXISTS (SELECT 1 FROM erased WHERE number = NEW.number)
  OR NOT EXISTS (SELECT 1 FROM ledger WHERE number = NEW.erasure AND kind = 'erasure')
  OR NEW.number >= NEW.erasure
BEGIN SELECT RAISE(ABORT, 'an erasure is told once'); END;

CREATE TRIGGER erased_never_changes BEFORE UPDATE ON erased
BEGIN SELECT RAISE(ABORT, 'an erasure is told once'); END;

CREATE TRIGGER erased_never_shrinks BEFORE DELETE ON erased
BEGIN SELECT RAISE(ABORT, 'an erasure is told once'); END;
