"""Pages in a language that is written from right to left, printed here: the suite writes a practice that prints in Arabic
and English (VITREOLEAF_ARABIC); a font is put into its `fonts/`, it is confirmed, and its cases are printed."""

import functools
import importlib.resources
import os
import re
import shutil
import subprocess
from pathlib import Path

PRACTICE, PROGRAM = "VITREOLEAF_ARABIC", "VITREOLEAF"
FONT = "NotoSansArabic[wdth,wght].ttf"


class Missing(Exception):
    """The environment does not say what the checks need; the text says what to do."""


def _from_environment(name: str) -> Path:
    if name not in os.environ:
        raise Missing(f"{name} is not set: run these checks through the suite (cargo test outside)")
    return Path(os.environ[name])


def _run(*arguments) -> str:
    command = [_from_environment(PROGRAM), *arguments]
    return subprocess.run(command, check=True, capture_output=True, timeout=120).stdout.decode("utf-8")


@functools.cache
def printed() -> Path:
    """The folder with all page sets of all its cases, as PDF, HTML and text."""
    practice = _from_environment(PRACTICE)
    (practice / "fonts").mkdir(exist_ok=True)
    shutil.copy(importlib.resources.files("fontpkg_noto_sans_arabic") / "files" / FONT, practice / "fonts" / "arabic.ttf")
    profile = practice / "profile.toml"
    confirmed = re.search(r'^hash = "\w+"', _run("confirm", "--practice", practice), re.MULTILINE).group()
    profile.write_text(re.sub(r'^hash = "\w+"', confirmed, profile.read_text("utf-8"), flags=re.MULTILINE), "utf-8")
    folder = practice / "printed"
    shutil.rmtree(folder, ignore_errors=True)
    for case in sorted(practice.glob("*.toml")):
        if case != profile:
            for moment in ("before", "after"):
                forms = ("--as", "pdf,html,text", "--issued", "2026-08-03T14:00:00Z")
                _run("print", case, "--practice", practice, "--moment", moment, "--out", folder, *forms)
    return folder


def files(pattern: str) -> list[Path]:
    found = sorted(printed().glob(pattern))
    if not found:
        raise Missing(f"no file {pattern} was printed")
    return found
