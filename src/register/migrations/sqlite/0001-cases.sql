-- Cases, the people who work on them, and what was issued. Times are UTC, as 2026-08-07T14:00:00.

CREATE TABLE person (
  name TEXT NOT NULL PRIMARY KEY,
  role TEXT NOT NULL CHECK (role IN ('desk', 'nurse', 'surgeon')),
  passphrase TEXT NOT NULL
) STRICT;

-- The columns after `file` are read from it, to list and to find.
CREATE TABLE kept_case (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  version INTEGER NOT NULL,
  file TEXT NOT NULL,
  code TEXT UNIQUE,
  starts TEXT,
  sought TEXT NOT NULL
) STRICT;
CREATE INDEX kept_case_starts ON kept_case (starts);

-- What a case was before each save of a sitting, so that it can be taken back.
CREATE TABLE change (
  case_id INTEGER NOT NULL REFERENCES kept_case (id),
  version INTEGER NOT NULL,
  file TEXT NOT NULL,
  what TEXT NOT NULL,
  by TEXT NOT NULL,
  at TEXT NOT NULL,
  taken_back INTEGER NOT NULL DEFAULT 0,
  PRIMARY KEY (case_id, version)
) STRICT;

-- What a case was when somebody signed, answered or issued.
CREATE TABLE revision (
  case_id INTEGER NOT NULL REFERENCES kept_case (id),
  version INTEGER NOT NULL,
  why TEXT NOT NULL,
  file TEXT NOT NULL,
  by TEXT NOT NULL,
  at TEXT NOT NULL
) STRICT;
CREATE INDEX revision_case ON revision (case_id);

CREATE TABLE issue (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  case_id INTEGER NOT NULL REFERENCES kept_case (id),
  moment TEXT NOT NULL CHECK (moment IN ('before', 'after')),
  revision INTEGER NOT NULL,
  record_hash TEXT NOT NULL,
  program TEXT NOT NULL,
  language TEXT NOT NULL,
  by TEXT NOT NULL,
  at TEXT NOT NULL
) STRICT;
CREATE INDEX issue_case ON issue (case_id);

CREATE TABLE issued_file (
  issue_id INTEGER NOT NULL REFERENCES issue (id),
  place INTEGER NOT NULL,
  name TEXT NOT NULL,
  sha256 TEXT NOT NULL,
  bytes BLOB NOT NULL,
  PRIMARY KEY (issue_id, place)
) STRICT;

-- What the desk remembers from one start to the next.
CREATE TABLE setting (
  name TEXT NOT NULL PRIMARY KEY,
  value TEXT NOT NULL
) STRICT;
