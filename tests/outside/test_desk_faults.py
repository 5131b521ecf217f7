"""What goes wrong around the desk: it is killed, the disk is full, its register cannot be written or is of a newer program, two
tabs write one case, anything at all is sent to it. `tests/desk/` holds what clocks do."""

import ctypes
import html
import itertools
import os
import random
import re
import resource
import shutil
import signal
import socket
import sqlite3
import string
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

import desk

pytestmark = pytest.mark.xdist_group("desk-faults")
KILLS = 200 if desk.EVERY else 15
REQUESTS = 10_000
SIGNED_IN = 10_000 if desk.EVERY else 300
NUMBER, PLACE = "/patient/record_number", "/plan/place"
FULL = 400_000
BALLAST = 500_000
"""Bytes by which a register may grow before its disk is full, and of what can be thrown away then."""


def test_killed_while_it_saves(tmp_path):
    """Old or new and never half of both, and no save that was confirmed is lost."""
    made, draws = desk.practice(tmp_path), random.Random(12)
    case, confirmed = None, 0
    for _ in range(KILLS):
        served = desk.start(tmp_path, made)
        client = desk.Client(served).sign_in()
        case = case or client.begin()
        confirmed = _kept(client, case, confirmed)
        confirmed = _saved_until_killed(served, client, case, confirmed, draws.uniform(0.0, 0.1))
    with desk.running(tmp_path, made) as served:
        assert _kept(desk.Client(served).sign_in(), case, confirmed) > KILLS
    assert _complaints(tmp_path) == []


def test_a_lost_save_is_noticed(tmp_path):
    """The check of the check: a register put back to what it was before the last saves."""
    made, before = desk.practice(tmp_path), tmp_path / "before"
    with desk.running(tmp_path, made) as served:
        case = desk.Client(served).sign_in().begin()
    assert list(made.parent.glob("*-register.sqlite3-*")) == [], "a register that is closed is one file"
    shutil.copy(desk.register(made), before)
    served = desk.start(tmp_path, made)
    client = desk.Client(served).sign_in()
    confirmed = _saved_until_killed(served, client, case, 0, 0.2)
    _put_back(made, before)
    with desk.running(tmp_path, made) as served, pytest.raises(AssertionError):
        _kept(desk.Client(served).sign_in(), case, confirmed)


def _save(client: desk.Client, case: str, number: int) -> tuple[int, str]:
    """Two fields in one save."""
    status, _, said = client.post(case, {NUMBER: number, PLACE: number, "do": "save who"}, client.form)
    return status, said


def _kept(client: desk.Client, case: str, confirmed: int) -> int:
    """The number of the save that the case holds: the last that was confirmed, or the one after it."""
    client.form = client.ask("GET", case)[2]
    number, place = (_field(client.form, name) for name in (NUMBER, PLACE))
    assert number == place and confirmed <= int(number or 0) <= confirmed + 1, (confirmed, number, place)
    return int(number or 0)


def _field(page: str, name: str) -> str:
    return html.unescape(page).split(f'name="{name}" value="')[1].split('"')[0]


def _saved_until_killed(served: desk.Desk, client: desk.Client, case: str, confirmed: int, seconds: float) -> int:
    client.form = client.ask("GET", case)[2]
    killer = threading.Timer(seconds, served.kill)
    killer.start()
    try:
        for number in itertools.count(confirmed + 1):
            status, said = _save(client, case, number)
            assert status == 303, said
            confirmed = number
    except (OSError, desk.http.client.HTTPException):
        killer.join()
    return confirmed


def _put_back(made: Path, before: Path):
    for left in made.parent.glob(f"{desk.register(made).name}-*"):
        left.unlink()
    shutil.copy(before, desk.register(made))


def _complaints(folder: Path) -> list[str]:
    """What a desk said of itself that it should not: a panic names its place."""
    return [line for line in (folder / "desk.log").read_text().splitlines() if line.startswith("error")]


def _file_no_larger_than(most: int):
    def limit():
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))

    return limit


def _small_disk(folder: Path) -> bool:
    """A disk of its own for a folder, where this user may make one."""
    folder.mkdir()
    if os.geteuid() != 0 or shutil.which("mount") is None:
        return False
    return subprocess.run(["mount", "-t", "tmpfs", "-o", "size=2m", "tmpfs", folder], capture_output=True).returncode == 0


@pytest.mark.parametrize("how", ["disk", "file"])
def test_a_full_disk(how, tmp_path):
    """A save that finds no room says so, the desk goes on, and what was saved before stands. Once with a disk of its own, once
    with a limit on the size of files; who may make no disk has the limit twice."""
    folder = tmp_path / "disk"
    is_disk = _small_disk(folder) if how == "disk" else folder.mkdir()
    try:
        made = desk.practice(folder)
        (folder / "ballast").write_bytes(bytes(BALLAST))
        limit = None if is_disk else _file_no_larger_than(desk.register(made).stat().st_size + FULL)
        with desk.running(tmp_path, made, before=limit) as served:
            client = desk.Client(served).sign_in()
            case = client.begin()
            client.form = client.ask("GET", case)[2]
            confirmed, status, said = _saved_until_full(client, case)
            assert status == 503 and "nothing was saved" in said, (status, said)
            assert _kept(client, case, confirmed) == confirmed, "the desk goes on"
            (folder / "ballast").unlink(missing_ok=True)
        with desk.running(tmp_path, made) as served:
            client = desk.Client(served).sign_in()
            assert _kept(client, case, confirmed) == confirmed
            assert _save(client, case, confirmed + 1)[0] == 303, "there is room again"
        assert _complaints(tmp_path) == []
    finally:
        if is_disk:
            subprocess.run(["umount", "-l", folder], check=True)


def _saved_until_full(client: desk.Client, case: str) -> tuple[int, int, str]:
    for number in range(1, 3000):
        status, said = _save(client, case, number)
        if status != 303:
            return number - 1, status, said
    raise AssertionError("the disk is never full")


def _without_the_rights_of_root():
    """Who is root may write everything: the process gives that up (`CAP_DAC_OVERRIDE`, `CAP_DAC_READ_SEARCH`)."""
    if os.geteuid() == 0:
        drop = ctypes.CDLL(None).prctl
        assert [drop(24, right, 0, 0, 0) for right in (1, 2)] == [0, 0]


def test_a_register_that_may_not_be_written(tmp_path):
    """The desk says so and leaves it as it is."""
    made = desk.practice(tmp_path)
    kept = desk.register(made)
    before = kept.read_bytes()
    kept.chmod(0o400)
    said = _refused(made, preexec_fn=_without_the_rights_of_root)
    assert "may not be written" in said, said
    assert kept.read_bytes() == before
    kept.chmod(0o600)
    with desk.running(tmp_path, made, before=_without_the_rights_of_root) as served:
        desk.Client(served).sign_in().begin()


def test_a_register_of_a_newer_program(tmp_path):
    """It is left as it is, with a sentence that tells what to do; put back, the desk opens it."""
    made = desk.practice(tmp_path)
    kept = desk.register(made)
    sound = kept.read_bytes()
    with sqlite3.connect(kept) as store:
        store.execute("INSERT INTO migration VALUES (999, 'of another program')")
    store.close()
    before = kept.read_bytes()
    said = _refused(made)
    assert "form 999" in said and "use the newer program" in said, said
    assert kept.read_bytes() == before
    kept.write_bytes(sound)
    with desk.running(tmp_path, made) as served:
        desk.Client(served).sign_in().begin()


@pytest.mark.parametrize("damage", ["no register at all", "cut off", "overwritten"])
def test_a_register_that_is_none(damage, tmp_path):
    """A sentence and no panic; the file is left as it is."""
    made = desk.practice(tmp_path)
    kept = desk.register(made)
    sound = kept.read_bytes()
    kept.write_bytes({"no register at all": b"this is no register" * 100, "cut off": sound[:5000],
                      "overwritten": sound[:200] + bytes(4000) + sound[4200:]}[damage])
    before = kept.read_bytes()
    said = _refused(made)
    assert "register" in said and "restore" in said or "choose another file" in said, said
    assert kept.read_bytes() == before


def _refused(made: Path, **options) -> str:
    """What a desk says that does not open."""
    said = desk.program("desk", "-p", made, "--no-open", **options)
    assert said.returncode == 2 and said.stdout == "" and said.stderr.startswith("error: "), (said.returncode, said.stderr)
    return said.stderr


@pytest.mark.parametrize("script", [True, False], ids=["with-script", "without-script"])
def test_two_tabs(script, tmp_path):
    """What one tab wrote the other does not undo: different fields are both kept, of one field both are shown."""
    with desk.running(tmp_path) as served, desk.browser() as browser:
        context = browser.new_context(java_script_enabled=script)
        one = context.new_page()
        desk.enter(one, served)
        one.get_by_role("button", name="New case").click()
        one.wait_for_url("**/desk*")
        other = context.new_page()
        other.goto(one.url)
        _write(one, "Record number", "000-901", script)
        _write(other, "Name", "Ada Muster", script)
        other.reload()
        assert [_stands(other, label) for label in ("Record number", "Name")] == ["000-901", "Ada Muster"]
        _write(one, "Name", "Ben Muster", script)
        one.reload()
        assert _stands(one, "Name") == "Ada Muster"
        assert "Ben Muster" in one.locator("#errors").inner_text()
        _write(one, "Name", "Ben Muster", script)
        one.reload()
        assert _stands(one, "Name") == "Ben Muster" and one.locator("#errors").count() == 0


def test_leaving_while_it_saves(tmp_path):
    """The words that were under way do not stand against those that came after them."""
    with desk.running(tmp_path) as served, desk.browser() as browser:
        page = browser.new_page()
        desk.enter(page, served)
        page.get_by_role("button", name="New case").click()
        page.wait_for_url("**/desk*")
        case = page.url
        name = page.get_by_label("Name", exact=True)
        with page.expect_request(lambda request: request.method == "POST"):
            name.fill("Ada")
        name.fill("Ada Muster")
        page.get_by_role("link", name="Practice").click()
        page.wait_for_url("**/practice")
        page.goto(case)
        assert _stands(page, "Name") == "Ada Muster" and page.locator("#errors").count() == 0


def test_a_reload_costs_no_reason_that_was_begun(tmp_path):
    """What is written beside the form waits too, without a signature."""
    with desk.running(tmp_path) as served, desk.browser() as browser:
        page = browser.new_page()
        desk.enter(page, served)
        page.goto(served.home + "/case/11/surgeon")
        page.locator("#finding-detachment-young summary").click()
        reason = page.locator("#reason-detachment-young")
        with page.expect_response(lambda answer: answer.request.method == "GET"):
            reason.fill("Examined again today.")
        page.reload()
        assert reason.input_value() == "Examined again today."


def _write(page, label: str, text: str, script: bool):
    """Types into a field and waits until the desk has it."""
    page.get_by_label(label, exact=True).fill(text)
    if script:
        with page.expect_response(lambda answer: answer.request.method == "GET"):
            pass
    else:
        with page.expect_event("load"):
            page.keyboard.press("Enter")


def _stands(page, label: str) -> str:
    return page.get_by_label(label, exact=True).input_value()


LETTERS = string.printable + "äß漢\u202e\0"
PARTS = ["case", "1", "day", "desk", "pages", "page", "1-1.svg", "print", "issue", "..", "%2e%2e", "%00", "-1", "9" * 20, "profile.toml", "due",
         "register.sqlite3", "open", "practice", "file", "?path=../../etc/passwd",
         "file?path=/etc/passwd", "file?path=../outside.txt", "..%2f..%2foutside.txt", "outside.txt", "sign-in", "style.css", "found", "?date=9999-99-99"]
FIELDS = [NUMBER, PLACE, "/patient/birth_date", "/plan/start", "/plan/visits/0/at", "/plan/visits/99/at", "~/eye/acuity", "=/health/medicines",
          ":/treatment/rows", "/treatment/rows/9999999/pulses", "/treatment/rows/0/pulses", "/eye/lens", "/eye/implant/adds_d/0", "/", "", "version",
          "question", "reason x", "/case/code", "/case/revision", "/answers/0/by"]
STEPS = ["desk", "nurse", "surgeon", "treatment", "pages"]
VALUES = ["", "on", "yes", "implant", "23.1", "7 aug 10", "2025-10", "timolol", "week", "en-US", "unknown", "-1", "1e309", "9" * 400, "31/02/2026", "2026-02-30", "1/2/3", "25:61", "\0", "\u202e", "no", "on", "../../x", "x" * 5000,
          "{{ 7 }}", "<b>", "multifocal"]
BUTTONS = ["save", "save who", "undo", f"take {NUMBER}", "take ", "take /", "is /patient/birth_date 2026-01-01", "is / ", "none history", "none x",
           "now /treatment/last_pulse", "now /eye", "given timolol", "given x", "sign x", "ask", "asked", "tailor x", "own", "look", "live", ""]


def _text(draws: random.Random, most: int) -> str:
    return "".join(draws.choices(LETTERS, k=draws.randrange(most)))


def _anything(draws: random.Random, port: int, cookie: str | None = None) -> bytes:
    """A request of any shape: right parts and wrong ones put together; most with the cookie of somebody who is signed in, if
    there is one."""
    method = draws.choice([*["GET", "POST"] * 4, "PUT", "HEAD", "TRACE", "CONNECT", "", _text(draws, 9)])
    path = "/" + "/".join(draws.choices([*PARTS, _text(draws, 12)], k=draws.randrange(5)))
    host = draws.choice([*[f"127.0.0.1:{port}"] * 6, "localhost", "evil.example", "", _text(draws, 20)])
    body = draws.choice(["", "name=a&passphrase=b", "token=", "do=none%20history", _text(draws, 400), "x" * draws.choice([10, 300_000])])
    size = draws.choice([*[len(body.encode())] * 5, 0, -1, 10**12, "x"])
    kind = draws.choice([*["application/x-www-form-urlencoded"] * 3, "multipart/form-data", "application/json", _text(draws, 9)])
    lines = [f"{method} {path} HTTP/1.1", f"Host: {host}", f"Content-Length: {size}", f"Content-Type: {kind}", "Connection: close"]
    if cookie and draws.random() < 0.8:
        lines.append(f"Cookie: {cookie}")
    elif draws.random() < 0.3:
        lines.append(f"Cookie: vitreoleaf-{port}={_text(draws, 70)}")
    return ("\r\n".join(lines) + "\r\n\r\n" + body).encode()


def _answer(port: int, request: bytes) -> bytes:
    """What comes back; the desk may close as it likes, but it must not hang."""
    with socket.create_connection(("127.0.0.1", port), timeout=20) as line:
        try:
            line.sendall(request)
            line.shutdown(socket.SHUT_WR)
            return b"".join(iter(lambda: line.recv(65536), b""))
        except TimeoutError:
            raise AssertionError(f"no answer to {request[:300]}") from None
        except OSError:
            return b""


def _files(folder: Path) -> set[str]:
    """Every file, but those that belong to a register while it is open."""
    names = {str(path.relative_to(folder)) for path in folder.rglob("*")}
    return {name for name in names if not name.endswith(("-wal", "-shm"))}


def test_anything_that_can_be_sent(tmp_path):
    """No panic, no file, no page without the key, whatever comes."""
    made, draws = desk.practice(tmp_path), random.Random(2026)
    statuses = set()
    with desk.running(tmp_path, made) as served:
        before = _files(tmp_path)
        for number in range(REQUESTS):
            request = _anything(draws, served.port)
            answer = _answer(served.port, request)
            status = answer[9:12]
            statuses.add(status)
            assert status[:1] not in (b"2", b"3") and status != b"500", (number, request[:300], answer[:300])
        assert _files(tmp_path) == before
        desk.Client(served).sign_in().begin()
    assert statuses >= {b"400", b"403", b"405", b"413", b"415", b"421"}, statuses
    assert _complaints(tmp_path) == []


def test_anything_from_somebody_who_is_signed_in(tmp_path):
    """Real fields and buttons and invented ones with any value, and requests of any shape: an answer, never a failure of the
    program nor a file beside its own, and every page still shows."""
    draws, secret = random.Random(7), b"for nobody's eyes"
    (tmp_path / "outside.txt").write_bytes(secret)
    with desk.running(tmp_path) as served:
        client = desk.Client(served).sign_in()
        before = _files(tmp_path)
        case = client.begin().rsplit("/", 1)[0]
        token = client.ask("GET", "/day")[2]
        names = {step: [*_names(client, f"{case}/{step}"), *FIELDS] for step in STEPS}
        for number in range(SIGNED_IN // 2):
            step = draws.choice(STEPS)
            fields = {draws.choice(names[step]): draws.choice(VALUES) for _ in range(draws.randrange(12))}
            status, _, said = client.post(f"{case}/{step}", fields | {"do": draws.choice(BUTTONS)}, token)
            assert status in (303, 404), (number, fields, step, status, said)
            if number % 5 == 0:
                status, _, said = client.ask("GET", f"{case}/{step}")
                assert status == 200, (number, fields, said)
            request = _anything(draws, served.port, client.cookie)
            answer = _answer(served.port, request)
            assert answer[9:12] != b"500" and secret not in answer and b"root:x:0" not in answer, (number, request[:300], answer[:300])
        assert _files(tmp_path) == before
    assert _complaints(tmp_path) == []


def _names(client: desk.Client, path: str) -> list[str]:
    """What the fields of a page are called."""
    fields = set(re.findall(r'name="([^"]+)"', html.unescape(client.ask("GET", path)[2])))
    assert len(fields) > 5 or path.endswith("/pages"), path
    return sorted(fields - {"token", "do", "viewport"})


def test_a_panic_is_noticed(tmp_path):
    """The check of the check: the line that a panic leaves."""
    (tmp_path / "desk.log").write_text("The desk is open\nerror: the program failed at src/desk/room.rs:1:1; what was saved is safe\n")
    assert len(_complaints(tmp_path)) == 1


OPENER = """#!{python}
import pathlib, sys
pathlib.Path({told!r}).write_text("\\n".join(sys.argv[1:]))
"""


@pytest.mark.skipif(not Path("/proc/self/cmdline").exists(), reason="this machine shows no command lines")
def test_another_user_of_the_machine_reads_no_key(tmp_path):
    """The browser is opened through a file of one's own: neither a command line nor a file that others may read holds the key,
    and the file is gone with the desk."""
    made, told, bin = desk.practice(tmp_path), tmp_path / "told", tmp_path / "bin"
    bin.mkdir()
    (bin / "xdg-open").write_text(OPENER.format(python=sys.executable, told=str(told)))
    (bin / "xdg-open").chmod(0o700)
    places = {"TMPDIR": str(tmp_path), "XDG_STATE_HOME": str(tmp_path), "PATH": f"{bin}:{os.environ['PATH']}"}
    command = [desk.PROGRAM, "desk", "-p", str(made)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env={**os.environ, **places}) as process:
        try:
            key = process.stdout.readline().strip().rsplit("/", 1)[1]
            until = time.monotonic() + 20
            while not told.exists() or not told.read_text():
                assert time.monotonic() < until, "nothing was opened"
                time.sleep(0.05)
            opened = told.read_text()
            page = Path(opened)
            assert key not in opened and key not in Path(f"/proc/{process.pid}/cmdline").read_text()
            assert key in html.unescape(page.read_text())
            open_to_others = [path for path in tmp_path.rglob("*") if path.is_file() and path.stat().st_mode & 0o077]
            assert [path for path in open_to_others if key.encode() in path.read_bytes()] == []
            own = [desk.register(made), page, *tmp_path.rglob("desk-*.json")]
            assert len(own) == 3 and not set(own) & set(open_to_others)
        finally:
            process.terminate()
        assert process.wait(30) == 0 and key not in process.stderr.read()
    assert not page.exists()


def _used(client: desk.Client):
    """A sitting in which everything is asked for: lists, forms, pages laid out and issued."""
    for path in ("/day", "/practice", "/case/1/desk", "/case/1/surgeon", "/case/1/pages", "/case/1/print", "/due"):
        assert client.ask("GET", path)[0] == 200, path
    assert client.post("/case/1/print", {})[0] == 303
    client.begin()


@pytest.mark.skipif(not Path("/proc/net/tcp").exists(), reason="this machine lists no sockets")
def test_no_socket_but_its_own(tmp_path):
    """While cases are made and pages issued, the process holds its listener and what that took in."""
    held, done = set(), threading.Event()
    with desk.running(tmp_path) as served:
        client = desk.Client(served).sign_in()
        using = threading.Thread(target=lambda: (_used(client), done.set()))
        using.start()
        while not done.wait(0.01) and using.is_alive():
            held |= _sockets(served.process.pid)
        assert done.is_set()
        assert _strange(held, served.port) == []
        with socket.create_server(("127.0.0.1", 0)) as other:
            assert _strange(_sockets(os.getpid()), served.port), (other, "the check of the check")


def _sockets(process: int) -> set[tuple[str, str]]:
    """Both ends of each socket that a process holds."""
    links = []
    for entry in Path(f"/proc/{process}/fd").iterdir():
        try:
            links.append(os.readlink(entry))
        except OSError:
            continue  # it was closed meanwhile
    inodes = {link[8:-1] for link in links if link.startswith("socket:[")}
    tables = [path for path in Path("/proc/net").iterdir() if path.name in ("tcp", "tcp6", "udp", "udp6", "raw", "raw6")]
    rows = [line.split() for table in tables for line in table.read_text().splitlines()[1:]]
    return {(row[1], row[2]) for row in rows if row[9] in inodes}


def _strange(held: set[tuple[str, str]], port: int) -> list[tuple[str, str]]:
    own = f"0100007F:{port:04X}"
    return [(here, there) for here, there in held if here != own or not there.startswith(("0100007F:", "00000000:0000"))]


@pytest.mark.skipif(shutil.which("strace") is None, reason="without a tracer the test above looks at the sockets")
def test_a_traced_run_makes_one_socket_and_writes_in_its_folder(tmp_path):
    """Every socket the program ever asks for is its listener, and every file it opens to write lies in its folder."""
    trace = tmp_path / "trace"
    calls = "trace=socket,connect,openat,open,creat,rename,renameat,renameat2,mkdir"
    command = ["strace", "-D", "-f", "-qq", "-s", "300", "-e", calls, "-o", str(trace)]
    with desk.running(tmp_path, under=command) as served:
        _used(desk.Client(served).sign_in())
    calls = _ended(trace)
    made = [call for call in calls if re.search(r"\b(socket|connect)\(", call)]
    assert len(made) == 1 and "AF_INET, SOCK_STREAM" in made[0], made
    written = [call for call in calls if re.search(r"O_WRONLY|O_RDWR|O_CREAT|\b(creat|rename\w*|mkdir)\(", call)]
    assert written, "the trace shows no file of the register"
    assert [call for call in written if str(tmp_path) not in call and "/dev/" not in call] == []


def _ended(trace: Path) -> list[str]:
    """The calls of a run that is over; the tracer may write a moment longer."""
    until, size = time.monotonic() + 10, -1
    while (now := trace.stat().st_size) != size and time.monotonic() < until:
        size = now
        time.sleep(0.3)
    return trace.read_text(errors="replace").splitlines()
