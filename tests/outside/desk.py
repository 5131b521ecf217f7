"""A desk that runs, and a browser in front of it. The desk is the program itself on this machine's loopback; the browser is
Chromium, driven from outside as a person drives it."""

import contextlib
import http.client
import os
import re
import shutil
import signal
import subprocess
import urllib.parse
from dataclasses import dataclass, field
from pathlib import Path

from playwright.sync_api import sync_playwright
from run import BROWSERS

ROOT = Path(__file__).resolve().parents[2]
PROGRAM = os.environ.get("VITREOLEAF", str(ROOT / "target/debug/vitreoleaf"))
EVERY = "VITREOLEAF_EVERY" in os.environ
PASSPHRASE = "example passphrase"
SURGEON = "Dr. Ada Sample"


def program(*arguments, **options) -> subprocess.CompletedProcess:
    """One command of the program, to its end."""
    return subprocess.run([PROGRAM, *map(str, arguments)], capture_output=True, text=True, timeout=120, **options)


def practice(folder: Path) -> Path:
    """The invented practice in a folder of its own, with a surgeon who may sign in."""
    made = folder / "practice"
    shutil.copytree(ROOT / "output-samples/practice", made)
    said = program("people", "-p", made, "--role", "surgeon", SURGEON, input=PASSPHRASE + "\n")
    assert said.returncode == 0, said.stderr
    return made


def register(made: Path) -> Path:
    """Where the register of a practice lies."""
    return made.with_name(made.name + "-register.sqlite3")


@dataclass
class Desk:
    """A running desk: its process, the address that lets one browser in, and where it answers."""

    process: subprocess.Popen
    address: str
    log: Path
    port: int = field(init=False)

    def __post_init__(self):
        self.port = urllib.parse.urlsplit(self.address).port

    @property
    def home(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def kill(self):
        """As a crash or a power cut ends it."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()


def start(folder: Path, made: Path | None = None, before=None, under=()) -> Desk:
    """Starts a desk: of a practice, or of the program's own example; `under` another program, if one is named."""
    log = folder / "desk.log"
    command = [*under, PROGRAM, "desk", "--no-open", *(["-p", str(made)] if made else [])]
    environment = {**os.environ, "TMPDIR": str(folder), "XDG_STATE_HOME": str(folder)}
    with open(log, "a") as said:
        process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=said, text=True, env=environment, preexec_fn=before)
    address = process.stdout.readline().strip()
    if not address:
        process.wait()
        raise RuntimeError(log.read_text())
    return Desk(process, address, log)


@contextlib.contextmanager
def running(folder: Path, made: Path | None = None, before=None, under=()):
    """A desk that ends with the test."""
    desk = start(folder, made, before, under)
    try:
        yield desk
    finally:
        desk.process.terminate()
        desk.process.wait(30)


@contextlib.contextmanager
def browser():
    """Chromium. Its own walls need a user who is not root."""
    path = next(filter(None, map(shutil.which, BROWSERS)))
    with sync_playwright() as drives:
        arguments = ["--no-sandbox"] if os.geteuid() == 0 else []
        opened = drives.chromium.launch(executable_path=path, args=arguments)
        yield opened
        opened.close()


def enter(page, desk: Desk, name: str = SURGEON):
    """Opens the address and signs in."""
    page.goto(desk.address)
    page.wait_for_url("**/sign-in")
    sign_in(page, name)


def sign_in(page, name: str = SURGEON):
    """Says who it is."""
    page.get_by_role("radio", name=name).check()
    page.get_by_label("Passphrase").fill(PASSPHRASE)
    page.keyboard.press("Enter")
    page.wait_for_url("**/day")


class Client:
    """Requests as a browser sends them, without one: for many of them, and for those that no browser would send."""

    def __init__(self, desk: Desk):
        self.desk = desk
        self.cookie = None

    def ask(self, method: str, path: str, body: str | bytes | None = None, headers: dict | None = None):
        """The status, the headers and the body of one answer."""
        connection = http.client.HTTPConnection("127.0.0.1", self.desk.port, timeout=60)
        own = {"Cookie": self.cookie} if self.cookie else {}
        if body is not None:
            own["Content-Type"] = "application/x-www-form-urlencoded"
        with contextlib.closing(connection):
            connection.request(method, path, body, own | (headers or {}))
            answer = connection.getresponse()
            return answer.status, dict(answer.getheaders()), answer.read().decode("utf-8", "replace")

    def sign_in(self, name: str = SURGEON):
        """Uses the one-time key, then the passphrase."""
        _, headers, _ = self.ask("GET", urllib.parse.urlsplit(self.desk.address).path)
        self.cookie = headers["set-cookie"].split(";")[0]
        self.post("/sign-in", {"name": name, "passphrase": PASSPHRASE}, self.ask("GET", "/sign-in")[2])
        return self

    def post(self, path: str, fields: dict, page: str | None = None):
        """Sends a form with the token that stands in a page."""
        page = page if page is not None else self.ask("GET", "/day")[2]
        token = re.search(r'name="token" value="([^"]+)"', page)[1]
        return self.ask("POST", path, urllib.parse.urlencode({"token": token, **fields}))

    def begin(self) -> str:
        """A new case: its address."""
        status, headers, _ = self.post("/case", {})
        assert status == 303, status
        return headers["location"]
