-- The program itself reads the session of a case, in the same way for every database (`sessions.rs`).

DROP TRIGGER kept_case_added;
DROP TRIGGER kept_case_changed;
DROP VIEW session_of_case;
