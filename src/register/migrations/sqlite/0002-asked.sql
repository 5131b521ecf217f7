-- A case may wait for the surgeon; an issue says whether pages were withheld from it. What an answer was given for is told by
-- its fingerprint alone.

ALTER TABLE kept_case ADD COLUMN asked TEXT;
CREATE INDEX kept_case_asked ON kept_case (asked);

ALTER TABLE issue ADD COLUMN withheld INTEGER NOT NULL DEFAULT 0;

UPDATE kept_case SET file = json_remove(file, '$.seen');
UPDATE change SET file = json_remove(file, '$.seen');
UPDATE revision SET file = json_remove(file, '$.seen');
