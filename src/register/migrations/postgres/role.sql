-- What the role of a desk may do: add to what is kept for good and read it, and neither change nor erase it.
GRANT USAGE ON SCHEMA vitreoleaf TO {role};
GRANT SELECT ON ALL TABLES IN SCHEMA vitreoleaf TO {role};
GRANT INSERT ON ledger, payload, outcome, kept_case, sought_word, change, session, person, setting TO {role};
GRANT UPDATE (version, file, code, starts, sought, asked) ON kept_case TO {role};
GRANT UPDATE ON change, person, setting TO {role};
GRANT DELETE ON change, session, sought_word, person TO {role};
