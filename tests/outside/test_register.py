"""The register, read without the program: SQLite's own check, and the chain of its ledger computed anew."""

import json
import random
import signal
import sqlite3
import subprocess
import time

import chain
import desk
from treated import CASE

CASES = ["ring-implant", "asthma-drops", "steroid-taper", "small-opening-long-eye"]
KILLS = 100 if desk.EVERY else 10


def _print(made, case, out) -> subprocess.Popen:
    """What a command line prints into a register. Without a current confirmation patients' pages are withheld (exit 1)."""
    record = desk.ROOT / "output-samples" / case / "case.toml"
    into = ["--register", desk.register(made), "--by", desk.SURGEON, "--out", out]
    command = [desk.PROGRAM, "print", record, "-p", made, "--issued-anyway", "--issued", "2026-08-20T16:00:00Z", *into]
    return subprocess.Popen([str(part) for part in command], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def _walk(path) -> list[tuple]:
    store = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
    assert store.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    ask = lambda sql: store.execute(sql).fetchall()
    rows = chain.walk(ask)
    assert chain.outcomes(ask) == sum(kind == "outcome" for _, kind, *_ in rows) - len(ask("SELECT 1 FROM erased JOIN ledger USING (number) WHERE kind = 'outcome'"))
    assert chain.people(ask) == sum(kind == "person" for _, kind, *_ in rows)
    store.close()
    return rows


def _verified(made) -> str:
    said = desk.program("register", "verify", "-p", made)
    assert said.returncode == 0, said.stderr
    return said.stdout.strip()


def test_several_processes_print_into_one_register_and_the_chain_holds(tmp_path):
    made = desk.practice(tmp_path)
    for _ in range(2):
        running = [_print(made, case, tmp_path / case) for case in CASES]
        for process in running:
            _, said = process.communicate(timeout=120)
            assert process.returncode in (0, 1), said
    rows = _walk(desk.register(made))
    assert sum(kind == "issue" for _, kind, *_ in rows) == 2 * len(CASES)
    assert _verified(made) == f"{rows[-1][0]}-{rows[-1][-1]}"

    said = desk.program("register", "erase", "-p", made, "EX-01", "--by", desk.SURGEON, "--reason", "asked for")
    assert said.returncode == 0, said.stderr
    erased = _walk(desk.register(made))
    assert erased[: len(rows)] == rows and len(erased) == len(rows) + 1
    for path in tmp_path.glob("*-register.sqlite3*"):
        assert b"Rosa Beispiel" not in path.read_bytes()


def test_a_process_that_is_killed_while_it_issues_leaves_whole_issues(tmp_path):
    made = desk.practice(tmp_path)
    chance = random.Random(1)
    for kill in range(KILLS):
        process = _print(made, CASES[kill % len(CASES)], tmp_path / "out")
        time.sleep(chance.uniform(0, 1.5))
        process.send_signal(signal.SIGKILL)
        process.communicate()
    process = _print(made, CASES[0], tmp_path / "out")
    _, said = process.communicate(timeout=120)
    assert process.returncode in (0, 1), said
    rows = _walk(desk.register(made))
    files = {number: 0 for number, kind, *_ in rows if kind == "issue"}
    for _, kind, _, part, *_ in rows:
        if kind == "file":
            files[part] += 1
    assert files and all(count >= 3 for count in files.values()), "an issue has all its files or is not there"
    _verified(made)


def test_a_backup_is_a_register_and_comes_back(tmp_path):
    made = desk.practice(tmp_path)
    _print(made, CASES[0], tmp_path / "out").communicate(timeout=120)
    said = desk.program("register", "backup", "-p", made, tmp_path / "backup")
    assert said.returncode == 0, said.stderr
    rows = _walk(tmp_path / "backup")
    assert said.stdout.strip() == f"{rows[-1][0]}-{rows[-1][-1]}"
    desk.register(made).unlink()
    said = desk.program("register", "restore", "-p", made, tmp_path / "backup")
    assert said.returncode == 0, said.stderr
    assert _walk(desk.register(made)) == rows


OUTCOMES = """case,visit,date,pressure_mmhg,acuity,bother_before_0_to_10,change,lost,event_kind,event_date,event_severity
T-1,week,2026-01-16,17.5,20/40-1,8,much_better,no,tear,2026-01-12,moderate
T-1,month,2026-02-09,,,,,yes,,,
"""


def test_outcomes_stand_in_the_chain_and_go_by_an_erasure(tmp_path):
    made = desk.practice(tmp_path)
    (tmp_path / "case.json").write_text(json.dumps(CASE))
    (tmp_path / "table.csv").write_text(OUTCOMES)
    assert desk.program("import", "-p", made, tmp_path / "case.json").returncode == 0
    taken = desk.program("outcomes", "import", "-p", made, "--by", desk.SURGEON, tmp_path / "table.csv")
    assert taken.returncode == 0, taken.stderr
    rows = _walk(desk.register(made))
    assert [kind for _, kind, *_ in rows] == ["person", "outcome", "outcome"]
    assert _verified(made) == f"3-{rows[-1][-1]}"
    said = desk.program("register", "erase", "-p", made, "T-1", "--by", desk.SURGEON, "--reason", "asked for")
    assert said.returncode == 0, said.stderr
    erased = _walk(desk.register(made))
    assert erased[:3] == rows and [kind for _, kind, *_ in erased] == ["person", "outcome", "outcome", "erasure"]


def test_an_outcome_that_was_changed_is_named(tmp_path):
    made = desk.practice(tmp_path)
    (tmp_path / "case.json").write_text(json.dumps(CASE))
    (tmp_path / "table.csv").write_text(OUTCOMES)
    desk.program("import", "-p", made, tmp_path / "case.json")
    desk.program("outcomes", "import", "-p", made, "--by", desk.SURGEON, tmp_path / "table.csv")
    store = sqlite3.connect(desk.register(made))
    store.executescript("DROP TRIGGER outcome_is_not_changed; UPDATE outcome SET change = 'worse' WHERE id = 2")
    store.close()
    said = desk.program("register", "verify", "-p", made)
    assert said.returncode == 2 and "row 2 of the ledger keeps another outcome" in said.stderr, said.stderr


def test_people_stand_in_the_chain_and_another_passphrase_is_named(tmp_path):
    made = desk.practice(tmp_path)
    someone = lambda *arguments: desk.program("people", "-p", made, *arguments, input=desk.PASSPHRASE + "\n")
    assert someone("--role", "nurse", "Kim Placeholder").returncode == 2, "nobody says who adds them"
    for arguments in (["--role", "nurse"], ["--role", "desk"], ["--take-out"]):
        said = someone(*arguments, "--by", desk.SURGEON, "Kim Placeholder")
        assert said.returncode == 0, said.stderr
    assert [kind for _, kind, *_ in _walk(desk.register(made))] == ["person"] * 4
    assert "Kim Placeholder: taken out, by Dr. Ada Sample" in someone("--changes").stdout
    assert "Kim" not in someone().stdout
    store = sqlite3.connect(desk.register(made))
    store.executescript("DROP TRIGGER person_changes_by_the_ledger; UPDATE person SET passphrase = 'x'")
    store.close()
    said = desk.program("register", "verify", "-p", made)
    assert said.returncode == 2 and "row 1 of the ledger tells otherwise of a person" in said.stderr, said.stderr


def test_a_sealed_backup_shows_nothing_and_opens_with_its_key(tmp_path):
    made = desk.practice(tmp_path)
    (tmp_path / "case.json").write_text(json.dumps(CASE))
    desk.program("import", "-p", made, tmp_path / "case.json")
    whom, other = (desk.program("register", "key", tmp_path / name).stdout.strip() for name in ("key", "other"))
    said = desk.program("register", "backup", "-p", made, tmp_path / "sealed", "--seal-to", whom)
    assert said.returncode == 0, said.stderr
    sealed = (tmp_path / "sealed").read_bytes()
    assert sealed.startswith(b"age-") and b"Invented" not in sealed and b"SQLite" not in sealed
    desk.register(made).unlink()
    for key in ([], ["--key", tmp_path / "other"]):
        refused = desk.program("register", "restore", "-p", made, tmp_path / "sealed", *key)
        assert refused.returncode == 2 and "sealed" in refused.stderr and not desk.register(made).exists()
    back = desk.program("register", "restore", "-p", made, tmp_path / "sealed", "--key", tmp_path / "key")
    assert back.returncode == 0 and back.stdout == said.stdout, back.stderr
    assert other != whom and [kind for _, kind, *_ in _walk(desk.register(made))] == ["person"]
