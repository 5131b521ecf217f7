-- What became of the eyes. A row is never changed or taken out: a correction is a row that names what it replaces, and a row
-- that was entered by mistake is replaced by one that is withdrawn. Days are those of the practice, times UTC.

-- Sessions in which pulses were given, read from their cases by the triggers below, to be counted.
CREATE TABLE session (
  case_id INTEGER NOT NULL PRIMARY KEY REFERENCES kept_case (id) ON DELETE CASCADE,
  code TEXT,
  record_number TEXT NOT NULL,
  side TEXT NOT NULL,
  surgeon TEXT NOT NULL,
  on_day TEXT NOT NULL,
  lens TEXT NOT NULL,
  focus TEXT NOT NULL,
  optic TEXT NOT NULL,
  floater TEXT NOT NULL,
  acuity TEXT NOT NULL,
  pressure_before_mmhg REAL,
  pressure_day_mmhg REAL,
  energy_mj REAL NOT NULL,
  pulses INTEGER NOT NULL,
  events TEXT NOT NULL
) STRICT;
CREATE INDEX session_day ON session (on_day);

CREATE VIEW session_of_case AS
SELECT
  id AS case_id,
  code,
  json_extract(file, '$.record.patient.record_number') AS record_number,
  json_extract(file, '$.record.eye.side') AS side,
  json_extract(file, '$.record.plan.surgeon') AS surgeon,
  substr(json_extract(file, '$.record.treatment.last_pulse'), 1, 10) AS on_day,
  coalesce(json_extract(file, '$.record.eye.lens'), 'unknown') AS lens,
  coalesce(json_extract(file, '$.record.eye.implant.focus'), 'unknown') AS focus,
  coalesce(json_extract(file, '$.record.eye.implant.optic'), 'unknown') AS optic,
  coalesce(json_extract(file, '$.record.floater.kind'), 'unknown') AS floater,
  coalesce(json_extract(file, '$.record.eye.acuity'), 'unknown') AS acuity,
  (SELECT mmhg FROM (SELECT json_extract(file, '$.record.treatment.pressure_before_mmhg') AS mmhg
                     UNION ALL SELECT json_extract(file, '$.record.eye.pressure_mmhg'))
   WHERE typeof(mmhg) IN ('integer', 'real') LIMIT 1) AS pressure_before_mmhg,
  (SELECT max(mmhg) FROM (SELECT json_extract(file, '$.record.treatment.pressure_after_mmhg') AS mmhg
                          UNION ALL SELECT json_extract(value, '$.pressure_mmhg')
                          FROM json_each(file, '$.record.treatment.rechecks') WHERE type = 'object')
   WHERE typeof(mmhg) IN ('integer', 'real')) AS pressure_day_mmhg,
  (SELECT total(json_extract(value, '$.pulse_energy_mj') * json_extract(value, '$.pulses'))
   FROM json_each(file, '$.record.treatment.rows') WHERE type = 'object') AS energy_mj,
  (SELECT coalesce(sum(json_extract(value, '$.pulses')), 0)
   FROM json_each(file, '$.record.treatment.rows') WHERE type = 'object') AS pulses,
  (SELECT json_group_array(coalesce(json_extract(value, '$.kind'), 'unknown'))
   FROM json_each(file, '$.record.treatment.events') WHERE type = 'object') AS events
FROM kept_case
WHERE json_type(file, '$.record.treatment.last_pulse') = 'text'
  AND json_type(file, '$.record.patient.record_number') = 'text'
  AND json_type(file, '$.record.eye.side') = 'text'
  AND json_type(file, '$.record.plan.surgeon') = 'text';

INSERT INTO session SELECT * FROM session_of_case;

CREATE TRIGGER kept_case_added AFTER INSERT ON kept_case BEGIN
  INSERT INTO session SELECT * FROM session_of_case WHERE case_id = new.id;
END;

CREATE TRIGGER kept_case_changed AFTER UPDATE OF file, code ON kept_case BEGIN
  DELETE FROM session WHERE case_id = new.id;
  INSERT INTO session SELECT * FROM session_of_case WHERE case_id = new.id;
END;

CREATE TABLE outcome (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
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

CREATE TRIGGER outcome_is_not_taken_out BEFORE DELETE ON outcome BEGIN
  SELECT RAISE(ABORT, 'an outcome is never taken out: add one that is withdrawn');
END;

-- INSERT OR REPLACE takes rows out without the trigger above.
CREATE TRIGGER outcome_is_not_replaced BEFORE INSERT ON outcome
WHEN EXISTS (SELECT 1 FROM outcome WHERE id = new.id OR replaces = new.replaces) BEGIN
  SELECT RAISE(ABORT, 'an outcome is never taken out: add one that replaces it');
END;
