-- What became of the eyes is bound into the ledger: the number of an outcome is that of its row there. What stood in `outcome`
-- is brought over before `outcome_before` goes (`adopted.rs`). A session knows which visits are booked.

DROP VIEW outcome_now;
DROP TRIGGER outcome_is_not_changed;
DROP TRIGGER outcome_goes_by_erasure_alone;
DROP TRIGGER outcome_is_not_replaced;
DROP INDEX outcome_case;
DROP INDEX outcome_replaces;
ALTER TABLE outcome RENAME TO outcome_before;

CREATE TABLE outcome (
  id INTEGER NOT NULL PRIMARY KEY REFERENCES ledger (number),
  case_id INTEGER NOT NULL REFERENCES kept_case (id),
  visit TEXT NOT NULL,
  on_day TEXT NOT NULL,
  pressure_mmhg REAL,
  acuity TEXT,
  bother_before INTEGER CHECK (bother_before BETWEEN 0 AND 10),
  bother_after INTEGER CHECK (bother_after BETWEEN 0 AND 10),
  questionnaire TEXT,
  change TEXT,
  further_laser TEXT,
  surgery TEXT,
  lost INTEGER NOT NULL CHECK (lost IN (0, 1)),
  events TEXT,
  withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
  by TEXT NOT NULL,
  at TEXT NOT NULL,
  replaces INTEGER REFERENCES outcome (id)
) STRICT;
CREATE INDEX outcome_case ON outcome (case_id);
CREATE UNIQUE INDEX outcome_replaces ON outcome (replaces) WHERE replaces IS NOT NULL;

-- What holds now.
CREATE VIEW outcome_now AS
SELECT * FROM outcome
WHERE withdrawn = 0 AND NOT EXISTS (SELECT 1 FROM outcome AS later WHERE later.replaces = outcome.id);

CREATE TRIGGER outcome_is_not_changed BEFORE UPDATE ON outcome BEGIN
  SELECT RAISE(ABORT, 'an outcome is never changed: add one that replaces it');
END;

CREATE TRIGGER outcome_goes_by_erasure_alone BEFORE DELETE ON outcome
WHEN NOT EXISTS (SELECT 1 FROM erased WHERE number = OLD.id)
BEGIN SELECT RAISE(ABORT, 'an outcome is never taken out: add one that is withdrawn'); END;

-- INSERT OR REPLACE takes rows out without the trigger above.
CREATE TRIGGER outcome_is_not_replaced BEFORE INSERT ON outcome
WHEN EXISTS (SELECT 1 FROM outcome WHERE id = NEW.id OR replaces = NEW.replaces) BEGIN
  SELECT RAISE(ABORT, 'an outcome is never taken out: add one that replaces it');
END;

CREATE TRIGGER outcome_stands_in_the_ledger BEFORE INSERT ON outcome
WHEN NOT EXISTS (SELECT 1 FROM ledger WHERE number = NEW.id AND kind = 'outcome' AND case_id = NEW.case_id)
BEGIN SELECT RAISE(ABORT, 'an outcome stands in the ledger first'); END;

ALTER TABLE session ADD COLUMN booked TEXT NOT NULL DEFAULT '[]';

-- These belong to each machine, which remembers them itself.
DELETE FROM setting WHERE name IN ('port', 'browsers');
