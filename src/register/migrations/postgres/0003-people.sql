-- Who was added, changed or taken out is bound into the ledger: `number` is that of the row which tells of it. Who stood in
-- `person` is brought over before `person_before` goes (`adopted.rs`). As step 9 of the SQLite store.

ALTER TABLE person RENAME TO person_before;
ALTER TABLE person_before RENAME CONSTRAINT person_pkey TO person_before_pkey;

CREATE TABLE person (
  name text COLLATE "C" NOT NULL PRIMARY KEY,
  role text COLLATE "C" NOT NULL CHECK (role IN ('desk', 'nurse', 'surgeon')),
  passphrase text COLLATE "C" NOT NULL,
  number bigint NOT NULL UNIQUE REFERENCES ledger (number)
);

CREATE FUNCTION person_stands_in_the_ledger() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF NOT EXISTS (SELECT 1 FROM vitreoleaf.ledger WHERE number = NEW.number AND kind = 'person') THEN
    RAISE EXCEPTION 'a change of a person stands in the ledger first';
  END IF;
  RETURN NEW;
END $$;

CREATE FUNCTION refuse_an_older_row() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF NEW.number <= OLD.number THEN
    RAISE EXCEPTION 'a change of a person stands in the ledger first';
  END IF;
  RETURN NEW;
END $$;

CREATE TRIGGER stands_in_the_ledger BEFORE INSERT OR UPDATE ON person FOR EACH ROW EXECUTE FUNCTION person_stands_in_the_ledger();
CREATE TRIGGER never_goes_back BEFORE UPDATE ON person FOR EACH ROW EXECUTE FUNCTION refuse_an_older_row();
ALTER TABLE person ENABLE ALWAYS TRIGGER stands_in_the_ledger;
ALTER TABLE person ENABLE ALWAYS TRIGGER never_goes_back;
