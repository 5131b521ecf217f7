"""Runs the checks of the generated packets in a virtual environment of their own.

    python3 run.py VENV [arguments for pytest]

The folder of packets is named by VITREOLEAF_PACKETS. VENV is made if it is not there; its packages are installed anew
only when requirements.txt has changed. The exit code is that of pytest (2: something is missing, with a sentence).
"""

import hashlib
import os
import shutil
import subprocess
import sys
import venv
from pathlib import Path

import fhir_examples
import server

HERE = Path(__file__).resolve().parent
PACKETS = "VITREOLEAF_PACKETS"
TOOLS = ("pdftotext", "pdffonts", "pdftoppm")
BROWSERS = ("chromium", "chromium-browser", "google-chrome")


def stop(sentence: str):
    print(sentence, file=sys.stderr)
    sys.exit(2)


def environment(folder: Path) -> Path:
    """The interpreter of the virtual environment, with the pinned packages in it."""
    requirements = HERE / "requirements.txt"
    wanted = hashlib.sha256(requirements.read_bytes()).hexdigest()
    stamp, python = folder / "requirements.sha256", folder / "bin" / "python"
    if python.exists() and stamp.exists() and stamp.read_text() == wanted:
        return python
    print(f"installing the packages of {requirements.name}", flush=True)
    venv.create(folder, with_pip=True, clear=folder.exists())
    command = [python, "-m", "pip", "install", "--quiet", "--disable-pip-version-check", "-r", requirements]
    if subprocess.run(command).returncode != 0:
        stop("pip could not install the packages of requirements.txt: check the network or the package index, then run again")
    stamp.write_text(wanted)
    return python


def install(package: str, there):
    """Installs a Debian package whose programs are missing, where that is possible."""
    if not there() and shutil.which("apt-get") and os.geteuid() == 0:
        print(f"installing {package}", flush=True)
        quiet = {"stdout": subprocess.DEVNULL, "env": {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}}
        subprocess.run(["apt-get", "update", "-qq"], **quiet)
        subprocess.run(["apt-get", "install", "-y", "-qq", package], **quiet)


def provide(package: str, there):
    """Makes sure that programs of a Debian package are there."""
    install(package, there)
    if not there():
        stop(f"install {package} (on Debian the package of that name), then run again")


def main(arguments: list[str]) -> int:
    if not arguments or arguments[0].startswith("-"):
        stop("give the folder of the virtual environment: python3 run.py VENV [arguments for pytest]")
    if sys.version_info < (3, 11):
        stop("Python 3.11 or newer is needed")
    provide("poppler-utils", lambda: all(map(shutil.which, TOOLS)))
    provide("chromium", lambda: any(map(shutil.which, BROWSERS)))
    provide("postgresql", server.programs)
    # Without a tracer the sockets of the desk are looked up in /proc while it works.
    install("strace", lambda: shutil.which("strace"))
    python = environment(Path(arguments[0]).resolve())
    # Real input for the reader of FHIR. Where npm cannot be had, its checks are skipped and say so.
    install("npm", lambda: shutil.which("npm"))
    examples = Path(arguments[0]).resolve().with_name("fhir-examples")
    fhir_examples.fetch(examples)
    fhir_examples.validator(examples)
    # Nothing is left behind in the source folder: neither byte code nor pytest's cache.
    command = [python, "-B", "-m", "pytest", "-q", "-rs", "-p", "no:cacheprovider", "--tb=short", "-n", "2", "--dist", "loadgroup", *arguments[1:]]
    variables = {**os.environ, "PYTHONDONTWRITEBYTECODE": "1", "VITREOLEAF_FHIR": str(examples)}
    if PACKETS in variables:
        variables[PACKETS] = str(Path(variables[PACKETS]).resolve())
    return subprocess.run(command, cwd=HERE, env=variables).returncode


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
