-- What became of the eyes is bound into the ledger: the number of an outcome is that of its row there. What stood in `outcome`
-- is brought over before `outcome_before` goes (`adopted.rs`). A session knows which visits are booked. As step 8 of the
-- SQLite store.

DROP VIEW outcome_now;
DROP INDEX outcome_case;
DROP INDEX outcome_replaces;
ALTER TABLE outcome RENAME TO outcome_before;
ALTER TABLE outcome_before RENAME CONSTRAINT outcome_pkey TO outcome_before_pkey;

CREATE TABLE outcome (
  id bigint NOT NULL PRIMARY KEY REFERENCES ledger (number),
  case_id bigint NOT NULL REFERENCES kept_case (id),
  visit text COLLATE "C" NOT NULL,
  on_day text COLLATE "C" NOT NULL,
  pressure_mmhg double precision,
  acuity text COLLATE "C",
  bother_before bigint CHECK (bother_before BETWEEN 0 AND 10),
  bother_after bigint CHECK (bother_after BETWEEN 0 AND 10),
  questionnaire text COLLATE "C",
  change text COLLATE "C",
  further_laser text COLLATE "C",
  surgery text COLLATE "C",
  lost bigint NOT NULL CHECK (lost IN (0, 1)),
  events text COLLATE "C",
  withdrawn bigint NOT NULL CHECK (withdrawn IN (0, 1)),
  by text COLLATE "C" NOT NULL,
  at text COLLATE "C" NOT NULL,
  replaces bigint REFERENCES outcome (id)
);
CREATE INDEX outcome_case ON outcome (case_id);
CREATE UNIQUE INDEX outcome_replaces ON outcome (replaces) WHERE replaces IS NOT NULL;

-- What holds now.
CREATE VIEW outcome_now AS
SELECT * FROM outcome
WHERE withdrawn = 0 AND NOT EXISTS (SELECT 1 FROM outcome AS later WHERE later.replaces = outcome.id);

CREATE OR REPLACE FUNCTION outcome_goes_by_erasure_alone() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF NOT EXISTS (SELECT 1 FROM vitreoleaf.erased WHERE number = OLD.id) THEN
    RAISE EXCEPTION 'an outcome is never taken out: add one that is withdrawn';
  END IF;
  RETURN OLD;
END $$;

CREATE FUNCTION outcome_stands_in_the_ledger() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF NOT EXISTS
    (SELECT 1 FROM vitreoleaf.ledger WHERE number = NEW.id AND kind = 'outcome' AND case_id = NEW.case_id) THEN
    RAISE EXCEPTION 'an outcome stands in the ledger first';
  END IF;
  RETURN NEW;
END $$;

CREATE TRIGGER goes_by_erasure_alone BEFORE DELETE ON outcome FOR EACH ROW EXECUTE FUNCTION outcome_goes_by_erasure_alone();
CREATE TRIGGER never_changes BEFORE UPDATE OR TRUNCATE ON outcome
FOR EACH STATEMENT EXECUTE FUNCTION refuse('an outcome is never changed: add one that replaces it');
CREATE TRIGGER stands_in_the_ledger BEFORE INSERT ON outcome FOR EACH ROW EXECUTE FUNCTION outcome_stands_in_the_ledger();
ALTER TABLE outcome ENABLE ALWAYS TRIGGER goes_by_erasure_alone;
ALTER TABLE outcome ENABLE ALWAYS TRIGGER never_changes;
ALTER TABLE outcome ENABLE ALWAYS TRIGGER stands_in_the_ledger;

ALTER TABLE session ADD COLUMN booked text COLLATE "C" NOT NULL DEFAULT '[]';

-- These belong to each machine, which remembers them itself.
DELETE FROM setting WHERE name IN ('port', 'browsers');
