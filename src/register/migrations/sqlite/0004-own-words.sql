-- A case tells why its patient reads own words of the surgeon; a program that does not know of it must not read such a case.
-- What is sought is looked through without the files of the cases.

CREATE INDEX kept_case_sought ON kept_case (sought);
