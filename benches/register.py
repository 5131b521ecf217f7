"""How the desk's screens grow with the cases in its register. See README.md beside this file."""

import argparse
import contextlib
import hashlib
import http.client
import json
import os
import random
import re
import shutil
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.parse
from datetime import date, timedelta
from pathlib import Path

sys.dont_write_bytecode = True  # leaves nothing behind in this folder
from process import ROOT  # noqa: E402

PASSPHRASE = "example passphrase"
SURGEON = "Dr. Ada Sample"
TODAY = date.today()
A_DAY = 20
"""Sessions of a large practice on one day: what grows is the register, not the day."""
AIMS = {"day": 0.05, "search": 0.05, "case": 0.05, "results": 1.0, "visits": 1.0}  # seconds at the 95th percentile


def letters(number: int) -> str:
    """A number in letters: a name holds no part of a code."""
    return str(number).translate(str.maketrans("0123456789", "abcdefghij")).capitalize()


def case(number: int, chance: random.Random) -> tuple[dict, date]:
    """An invented treatment, so many a day."""
    on = TODAY - timedelta(days=1 + number // A_DAY)
    record = {
        "case": {"code": f"B-{number}", "revision": 1},
        "patient": {"name": f"Invented Person {letters(number)}", "record_number": f"INV-{number // 2:06}", "birth_date": "1956-03-02"},
        "eye": {"side": ("right", "left")[number % 2], "lens": "implant", "acuity": "20/25", "pressure_mmhg": 15},
        "floater": {"kind": "ring"},
        "plan": {"start": f"{on}T10:00", "surgeon": ("sample", "novak")[number % 2]},
        "treatment": {
            "rows": [{"pulse_energy_mj": 4.5, "pulses": chance.randrange(60, 200)}], "last_pulse": f"{on}T10:20",
            "leaves": f"{on}T11:30", "pressure_after_mmhg": 17, "events": [],
        },
    }
    return record, on


def folded(text: str) -> str:
    """Text in the form in which it is sought."""
    return "".join(filter(str.isalnum, text.lower())).translate(str.maketrans("oil", "011"))


class Ledger:
    """Rows bound to each other, as the program would have written them."""

    def __init__(self, register: sqlite3.Connection):
        last = register.execute("SELECT number, hash FROM ledger ORDER BY number DESC LIMIT 1").fetchone()
        self.register, (self.number, self.hash) = register, last or (0, "0" * 64)

    def keep(self, kind: str, case: int, kept: dict) -> int:
        """Adds a row: its number."""
        self.number += 1
        salt, body, at = self.number.to_bytes(32, "big"), json.dumps(kept, separators=(",", ":"), sort_keys=True).encode(), kept["at"]
        commitment = hashlib.sha256(salt + body).hexdigest()
        lines = [self.hash, str(self.number), kind, str(case), "", at, commitment]
        self.hash = hashlib.sha256("\n".join(lines).encode()).hexdigest()
        self.register.execute("INSERT INTO ledger VALUES (?, ?, ?, NULL, ?, ?, ?)", (self.number, kind, case, at, commitment, self.hash))
        self.register.execute("INSERT INTO payload VALUES (?, ?, ?)", (self.number, salt, body))
        return self.number


def fill(store: Path, count: int):
    """Cases with three outcomes each, as the program would have written them."""
    chance = random.Random(1)
    with contextlib.closing(sqlite3.connect(store)) as register, register:
        ledger = Ledger(register)
        for number in range(1, count + 1):
            record, on = case(number, chance)
            file = json.dumps({"record": record, "typed": {}, "unsigned_answers": [], "unsigned_tailoring": [], "whole": {}, "asked": None})
            sought = " ".join(map(folded, [record["patient"]["name"], record["patient"]["record_number"], f"B-{number}"]))
            register.execute(
                "INSERT INTO kept_case (id, version, file, code, starts, sought) VALUES (?, 1, ?, ?, ?, ?)",
                (number, file, f"B-{number}", f"{on}T10:00:00", sought),
            )
            plan, treatment = record["plan"], record["treatment"]
            pulses = treatment["rows"][0]["pulses"]
            register.execute(
                "INSERT INTO session VALUES (?, ?, ?, ?, ?, ?, 'implant', 'unknown', 'unknown', 'ring', '20/25', 15.0, 17.0, ?, ?, '[]', '[]')",
                (number, f"B-{number}", record["patient"]["record_number"], record["eye"]["side"], plan["surgeon"], str(on), 4.5 * pulses, pulses),
            )
            for visit, days in (("week", 7), ("month", 30), ("late", 182)):
                events = [{"kind": "tear", "on": str(on), "severity": "moderate"}] if chance.random() < 0.01 else []
                if on + timedelta(days=days) < TODAY and chance.random() < 0.9:
                    seen = {"visit": visit, "on": str(on + timedelta(days=days)), "pressure_mmhg": 16, "acuity": "20/25",
                            "bother_before": 8, "bother_after": 2, "change": chance.choice(["gone", "much_better", "same"]), "events": events}
                    kept = {"outcome": seen, "withdrawn": False, "replaces": None, "by": "x", "at": "2026-01-01T00:00:00"}
                    register.execute(
                        "INSERT INTO outcome (id, case_id, visit, on_day, pressure_mmhg, acuity, bother_before, bother_after, change, "
                        "lost, events, withdrawn, by, at) VALUES (?, ?, ?, ?, 16.0, '20/25', 8, 2, ?, 0, ?, 0, 'x', '2026-01-01T00:00:00')",
                        (ledger.keep("outcome", number, kept), number, visit, seen["on"], seen["change"], json.dumps(events) if events else None),
                    )


class Client:
    """A browser of few words."""

    def __init__(self, address: str):
        self.port, self.cookie = urllib.parse.urlsplit(address).port, None
        _, headers, _ = self.ask("GET", urllib.parse.urlsplit(address).path)
        self.cookie = headers["set-cookie"].split(";")[0]
        self.token = re.search(r'name="token" value="([^"]+)"', self.ask("GET", "/sign-in")[2])[1]
        self.send("/sign-in", {"name": SURGEON, "passphrase": PASSPHRASE})

    def send(self, path: str, fields: dict):
        """Sends a form."""
        self.ask("POST", path, urllib.parse.urlencode({"token": self.token, **fields}))

    def ask(self, method: str, path: str, body: str | None = None):
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=600)
        headers = {"Cookie": self.cookie} if self.cookie else {}
        with contextlib.closing(connection):
            connection.request(method, path, body, headers | ({"Content-Type": "application/x-www-form-urlencoded"} if body else {}))
            answer = connection.getresponse()
            return answer.status, {name.lower(): value for name, value in answer.getheaders()}, answer.read().decode()


def measure(binary: Path, count: int, times: int) -> dict[str, list[float]]:
    """Seconds of each request, by screen."""
    with tempfile.TemporaryDirectory() as folder:
        practice = Path(folder) / "practice"
        shutil.copytree(ROOT / "output-samples/practice", practice)
        person = [binary, "people", "-p", practice, "--role", "surgeon", SURGEON]
        subprocess.run(person, input=PASSPHRASE + "\n", text=True, check=True, capture_output=True)
        fill(Path(folder) / "practice-register.sqlite3", count)
        desk = subprocess.Popen([binary, "desk", "--no-open", "-p", practice], env={**os.environ, "XDG_STATE_HOME": folder}, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        try:
            client = Client(desk.stdout.readline().strip())
            chance = random.Random(2)
            some = lambda: chance.randrange(1, count + 1)
            screens = {
                "day": lambda: f"/day?date={TODAY - timedelta(days=1 + some() // A_DAY)}",
                "search": lambda: "/day/found",
                "case": lambda: f"/case/{some()}/outcome",
                "results": lambda: "/results",
                "visits": lambda: "/visits",
            }
            return {name: [once(client, path(), some()) for _ in range(times if AIMS[name] < 1 else max(3, times // 10))] for name, path in screens.items()}
        finally:
            desk.terminate()
            desk.wait(30)


def once(client: Client, path: str, number: int) -> float:
    """Seconds until a screen is there; a search is sent first."""
    began = time.perf_counter()
    if path == "/day/found":
        client.send(path, {"find": f"B-{number}"})
    status, _, _ = client.ask("GET", path)
    assert status == 200, (path, status)
    return time.perf_counter() - began


def main():
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--binary", type=Path, default=ROOT / "target/release/vitreoleaf")
    options.add_argument("--counts", type=int, nargs="+", default=[1000, 10_000, 100_000])
    options.add_argument("--times", type=int, default=100)
    options = options.parse_args()
    print("| cases | screen | median, ms | 95th percentile, ms | aim, ms | met |\n|---|---|---|---|---|---|")
    for count in options.counts:
        for name, seconds in measure(options.binary, count, options.times).items():
            late = statistics.quantiles(seconds, n=20)[-1]
            met = "yes" if late < AIMS[name] else "no"
            print(f"| {count:,} | {name} | {statistics.median(seconds) * 1000:.1f} | {late * 1000:.1f} | {AIMS[name] * 1000:.0f} | {met} |", flush=True)


if __name__ == "__main__":
    main()
