"""How quick the desk answers with a full register, and what it holds after many previews. See README.md beside this file."""

import argparse
import datetime
import http.client
import math
import re
import shutil
import subprocess
import sys
import tempfile
import time
import urllib.parse
from pathlib import Path

sys.dont_write_bytecode = True  # leaves nothing behind in this folder
import growth  # noqa: E402
import process  # noqa: E402
from process import Refusal  # noqa: E402

SURGEON, PASSPHRASE = "Dr. Ada Sample", "example passphrase"
CASES = 2000
TIMES = 60  # measured changes
PREVIEWS = 1000
FIRST_PAGE, SAVE, PREVIEW = 0.300, 0.150, 0.400  # seconds
MOST_MEMORY = 250_000_000  # bytes
FIRST_DAY = datetime.date(2026, 9, 1)
DAYS = 250  # over which the cases are spread, as eight a day are


class Desk:
    """A desk of a practice in a folder, and the browser it let in."""

    def __init__(self, program: Path, practice: Path, log: Path):
        began = time.perf_counter()
        self.said = log.open("a")
        self.process = subprocess.Popen([program, "desk", "--no-open", "-p", practice], stdout=subprocess.PIPE, stderr=self.said, text=True)
        address = urllib.parse.urlsplit(self.process.stdout.readline().strip())
        if not address.path:
            raise Refusal(f"the desk does not start\n{log.read_text()}")
        self.port, self.cookie = address.port, None
        self.cookie = self.ask("GET", address.path)[1]["set-cookie"].split(";")[0]
        self.ask("GET", "/sign-in")
        self.first_page = time.perf_counter() - began
        self.token = re.search(r'name="token" value="([^"]+)"', self.ask("GET", "/sign-in")[2])[1]
        self.post("/sign-in", {"name": SURGEON, "passphrase": PASSPHRASE})

    def ask(self, method: str, path: str, body: str | None = None):
        line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=120)
        headers = {"Cookie": self.cookie} if self.cookie else {}
        line.request(method, path, body, headers | ({"Content-Type": "application/x-www-form-urlencoded"} if body else {}))
        answer = line.getresponse()
        text = answer.read().decode("utf-8", "replace")
        line.close()
        return answer.status, {name.lower(): value for name, value in answer.getheaders()}, text

    def post(self, path: str, fields: dict) -> str:
        """Where a form leads."""
        status, headers, text = self.ask("POST", path, urllib.parse.urlencode({"token": self.token, **fields}))
        if status != 303:
            raise Refusal(f"{path} answers {status}: {text[:300]}")
        return headers["location"].split("#")[0]

    def page(self, path: str) -> str:
        status, _, text = self.ask("GET", path)
        if status != 200:
            raise Refusal(f"{path} answers {status}: {text[:300]}")
        return text

    def end(self):
        self.process.terminate()
        self.process.wait(30)
        self.said.close()


def fill(program: Path, folder: Path, count: int) -> Path:
    """A practice whose register holds so many cases of invented patients, spread over days."""
    practice, cases = folder / "practice", folder / "cases"
    shutil.copytree(growth.PRACTICE, practice)
    cases.mkdir()
    growth.write_cases(cases, count)
    for number, path in enumerate(sorted(cases.iterdir())):
        path.write_text(before_the_laser(path.read_text("utf-8"), number), "utf-8")
    run(program, "people", "-p", practice, "--role", "surgeon", SURGEON, typed=PASSPHRASE)
    run(program, "import", "-p", practice, *sorted(cases.iterdir()))
    return practice


def before_the_laser(record: str, number: int) -> str:
    """A case that is planned: on one of many days, without its treatment and the visit that was booked."""
    day = FIRST_DAY + datetime.timedelta(days=number % DAYS)
    planned = re.sub(r"(?m)^start = .*$", f"start = {day}T10:00:00", record.split("[treatment]")[0])
    return re.sub(r"(?m)^visits = .*$", "", planned)


def run(program: Path, *arguments, typed: str = ""):
    done = subprocess.run([program, *map(str, arguments)], input=typed + "\n", capture_output=True, text=True)
    if done.returncode != 0:
        raise Refusal(f"{arguments[0]} ended with {done.returncode}\n{done.stderr[-2000:]}")


def measure(desk: Desk, cases: int, times: int) -> tuple[list[float], list[float], float]:
    """Seconds of each save with its findings and of the preview after it, as a browser asks for both, and of the list of a day."""
    saves, previews = [], []
    for number in range(times):
        case = f"/case/{number % cases + 1}"
        version = re.search(r'name="version" value="(\d+)"', desk.page(f"{case}/surgeon"))[1]
        change = {"version": version, "/floater/lens_distance_mm": 6 + number % 20 / 10, "do": "live"}
        began = time.perf_counter()
        text = desk.page(desk.post(f"{case}/surgeon", change))
        saves.append(time.perf_counter() - began)
        if 'id="finding-' not in text:
            raise Refusal("a save shows no findings")
        previews.append(preview(desk, case))
    began = time.perf_counter()
    desk.page(f"/day?date={FIRST_DAY}")
    return saves, previews, time.perf_counter() - began


def preview(desk: Desk, case: str) -> float:
    """Seconds until the altered page is there as a picture."""
    began = time.perf_counter()
    source = re.search(r'<img src="([^"]+)"', desk.page(f"{case}/preview"))
    if source is None:
        raise Refusal("a case shows no preview; confirm the demo, then build the program again")
    desk.page(source[1].replace("&#x2f;", "/"))
    return time.perf_counter() - began


def percentile(values: list[float], part: float = 0.95) -> float:
    return sorted(values)[math.ceil(len(values) * part) - 1]


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--binary", type=Path, help="program to measure; left out: the release build")
    parser.add_argument("--smoke", action="store_true", help="few cases, few times: shows that the measurement still runs")
    arguments = parser.parse_args()
    cases, times, looks = (20, 5, 10) if arguments.smoke else (CASES, TIMES, PREVIEWS)
    with tempfile.TemporaryDirectory(prefix="vitreoleaf-bench-") as name:
        folder = Path(name)
        try:
            program = process.program(arguments.binary)
            practice = fill(program, folder, cases)
            desk = Desk(program, practice, folder / "log")
            saves, previews, day = measure(desk, cases, times)
            for number in range(looks):
                place = {"/plan/place": f"Laser room {number}", "do": "live"}
                desk.post(f"/case/{number % cases + 1}/desk", place)
                preview(desk, f"/case/{number % cases + 1}")
            held = process.resident(desk.process.pid)
            desk.end()
        except Refusal as refusal:
            sys.exit(f"error: {refusal}")
    save, look = percentile(saves), percentile(previews)
    print(f"{cases} cases, {times} changes, {looks} previews. A day of {math.ceil(cases / DAYS)} cases: {day * 1000:.0f} ms.",
          process.machine(), process.aims([
              (f"first page under {FIRST_PAGE * 1000:.0f} ms after start", f"{desk.first_page * 1000:.0f} ms", desk.first_page < FIRST_PAGE),
              (f"save with findings under {SAVE * 1000:.0f} ms at the 95th percentile", f"{save * 1000:.0f} ms", save < SAVE),
              (f"preview under {PREVIEW * 1000:.0f} ms at the 95th percentile", f"{look * 1000:.0f} ms", look < PREVIEW),
              (f"under {MOST_MEMORY / 1e6:.0f} MB after {looks} previews", f"{held / 1e6:.0f} MB", held < MOST_MEMORY),
          ]), sep="\n\n")


if __name__ == "__main__":
    main()
