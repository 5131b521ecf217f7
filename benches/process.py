"""Runs a program as a whole process and weighs it; says on what machine. Linux."""

import contextlib
import os
import platform
import re
import signal
import subprocess
import tempfile
import threading
import time
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
LONGEST_RUN = 1800  # seconds; what hangs is an error, not a result
LOOK = 0.2  # seconds between two looks at a running process


class Refusal(Exception):
    """Something is missing or wrong; the message tells a person what to do."""


@dataclass(frozen=True)
class Used:
    """What one process used, its children that it waited for among it. Times in seconds, memory in bytes."""

    wall: float
    cpu: float
    memory: int


def run(command, environment=None, watch=None) -> Used:
    """Runs a command to its end. `watch(pid)` is called with it while it runs. `ru_maxrss` is in KiB on Linux."""
    with tempfile.TemporaryFile() as log:
        start = time.perf_counter()
        process = subprocess.Popen(
            command, stdin=subprocess.DEVNULL, stdout=log, stderr=log, env=os.environ | (environment or {}), start_new_session=True,
        )
        with _at_most(process, LONGEST_RUN), _watching(process, watch):
            _, status, usage = os.wait4(process.pid, 0)
        wall = time.perf_counter() - start
        process.returncode = os.waitstatus_to_exitcode(status)
        if process.returncode != 0:
            log.seek(0)
            raise Refusal(f"{command[0]} ended with {process.returncode}\n{log.read().decode(errors='replace')[-2000:]}")
    return Used(wall, usage.ru_utime + usage.ru_stime, usage.ru_maxrss * 1024)


@contextlib.contextmanager
def _at_most(process, seconds):
    def stop():
        with contextlib.suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)

    timer = threading.Timer(seconds, stop)
    timer.start()
    yield
    timer.cancel()


@contextlib.contextmanager
def _watching(process, watch):
    ended = threading.Event()

    def look():
        while not ended.wait(LOOK):
            watch(process.pid)

    thread = threading.Thread(target=look)
    if watch:
        thread.start()
    yield
    ended.set()
    if watch:
        thread.join()


def resident(pid) -> int:
    """Memory a process holds now, in bytes; 0 once it is gone."""
    try:
        return int(re.search(r"^VmRSS:\s+(\d+)", Path(f"/proc/{pid}/status").read_text(), re.M)[1]) * 1024
    except (OSError, TypeError):
        return 0


def output(*command) -> str:
    """What a command prints. Not for measured runs."""
    try:
        return subprocess.run(command, capture_output=True, text=True, check=True, cwd=ROOT).stdout
    except FileNotFoundError:
        raise Refusal(f"{command[0]} is missing; benches/README.md says what to install") from None
    except subprocess.CalledProcessError as error:
        raise Refusal(f"{command[0]} ended with {error.returncode}\n{error.stderr[-2000:]}") from None


def program(asked) -> Path:
    """The program to measure: the one asked for, else the release build."""
    path = asked.resolve() if asked else ROOT / "target/release/vitreoleaf"
    if not path.is_file():
        raise Refusal("there is no program to measure; run `cargo build --release`, or name one with --binary")
    return path


def machine() -> str:
    def first(path, pattern):
        match = re.search(pattern, Path(path).read_text(), re.M)
        return match[1] if match else "unknown"

    memory = int(first("/proc/meminfo", r"^MemTotal:\s+(\d+)")) * 1024 / 1e9
    processor, system = first("/proc/cpuinfo", r"^model name\s*:\s*(.+)$"), first("/etc/os-release", r'^PRETTY_NAME="?([^"\n]+)')
    return f"{processor}, {cores()} cores, {memory:.0f} GB, {system}, kernel {platform.release()}"


def cores() -> int:
    return len(os.sched_getaffinity(0))


def aims(rows) -> str:
    """A table of aims: what, aim, measured, whether it is met."""
    lines = ["| aim | measured | |", "| --- | --- | --- |"]
    return "\n".join([*lines, *(f"| {aim} | {measured} | {'met' if met else '**not met**'} |" for aim, measured, met in rows)])
