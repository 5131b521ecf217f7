"""A PostgreSQL server of the checks' own, at a socket in a folder that goes with it."""

import contextlib
import os
import pwd
import shutil
import subprocess
import tempfile
from pathlib import Path

OWNER = "owner"


def programs() -> Path | None:
    """Where the programs of the server lie."""
    places = [*sorted(Path("/usr/lib/postgresql").glob("*/bin")), *map(Path, os.environ.get("PATH", "").split(os.pathsep))]
    return next((place for place in places if (place / "initdb").exists()), None)


@contextlib.contextmanager
def running():
    """The folder of its socket. As root it runs as its own user."""
    folder = Path(tempfile.mkdtemp(prefix="pg", dir="/tmp"))
    as_user = {"cwd": folder, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    if os.geteuid() == 0:
        user = pwd.getpwnam("postgres")
        os.chown(folder, user.pw_uid, user.pw_gid)
        as_user |= {"user": user.pw_uid, "group": user.pw_gid, "extra_groups": []}
    bin = programs()
    subprocess.run([bin / "initdb", "-D", "data", "-A", "trust", "-U", OWNER, "-E", "UTF8", "--locale=C.UTF-8"], check=True, **as_user)
    options = f"-k {folder} -c listen_addresses="
    subprocess.run([bin / "pg_ctl", "-D", "data", "-w", "-o", options, "-l", "log", "start"], check=True, **as_user)
    try:
        yield folder
    finally:
        subprocess.run([bin / "pg_ctl", "-D", "data", "-w", "-m", "immediate", "stop"], **as_user)
        shutil.rmtree(folder, ignore_errors=True)
