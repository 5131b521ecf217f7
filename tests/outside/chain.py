"""The chain of a register's ledger, computed anew from the tables alone."""

import hashlib


def walk(ask) -> list[tuple]:
    """Every row of the ledger, each bound to the one before it, what is kept against its commitment. `ask` gives the rows of a
    statement, whatever database it is."""
    before, rows = "0" * 64, ask("SELECT number, kind, case_id, part_of, at, commitment, hash FROM ledger ORDER BY number")
    for place, (number, kind, case, part, at, commitment, own) in enumerate(rows, 1):
        assert number == place, "no number is missing or given twice"
        lines = [before, number, kind, "" if case is None else case, "" if part is None else part, at, commitment]
        before = hashlib.sha256("\n".join(map(str, lines)).encode()).hexdigest()
        assert own == before, f"row {number}"
        kept = ask(f"SELECT salt, body FROM payload WHERE number = {number}")
        if kept:
            assert hashlib.sha256(kept[0][0] + kept[0][1]).hexdigest() == commitment, f"row {number}"
        else:
            assert ask(f"SELECT 1 FROM erased WHERE number = {number}"), f"row {number} lost what it kept"
    return rows
