"""The chain of a register's ledger, computed anew from the tables alone."""

import hashlib
import json


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


def outcomes(ask) -> int:
    """How many outcomes the ledger keeps. Each is counted by the columns that say the same, and nothing else is counted."""
    kept = ask("SELECT ledger.number, body FROM ledger JOIN payload ON payload.number = ledger.number WHERE kind = 'outcome' ORDER BY 1")
    for number, body in kept:
        kept_of = json.loads(bytes(body))
        seen = {name: None if value == "unknown" else value for name, value in kept_of["outcome"].items()}
        columns = ["visit", "pressure_mmhg", "acuity", "bother_before", "bother_after", "change", "further_laser", "surgery"]
        (row,) = ask(f"SELECT {', '.join(columns)}, on_day, lost, events, withdrawn, replaces, by, at FROM outcome WHERE id = {number}")
        *told, on, lost, events, withdrawn, replaces, by, at = row
        assert told == [seen[name] for name in columns] and (on, bool(lost)) == (seen["on"], seen["lost"]), f"row {number}"
        assert json.loads(events or "[]") == seen["events"], f"row {number}"
        assert (bool(withdrawn), replaces, by, at) == tuple(kept_of[name] for name in ("withdrawn", "replaces", "by", "at")), f"row {number}"
    assert ask("SELECT count(*) FROM outcome") == [(len(kept),)]
    return len(kept)


def people(ask) -> int:
    """How many changes of people the ledger tells. The last one of each person says what they may do now, and nobody else may."""
    told = ask("SELECT ledger.number, body FROM ledger JOIN payload ON payload.number = ledger.number WHERE kind = 'person' ORDER BY 1")
    now = {}
    for number, body in told:
        kept = json.loads(bytes(body))
        now[kept["name"]] = kept["may"] and (kept["may"]["role"], kept["may"]["passphrase_sha256"], number)
    rows = ask("SELECT name, role, passphrase, number FROM person")
    may = {name: (role, hashlib.sha256(passphrase.encode()).hexdigest(), number) for name, role, passphrase, number in rows}
    assert may == {name: is_so for name, is_so in now.items() if is_so}
    return len(told)
