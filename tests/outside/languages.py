"""Pages in every language, printed here: the suite writes a practice that prints in all of them, with a folder of cases for
each (VITREOLEAF_LANGUAGES)."""

import importlib.resources
import os
import re
import shutil
import subprocess
from pathlib import Path

PRACTICE, PROGRAM = "VITREOLEAF_LANGUAGES", "VITREOLEAF"
LOCALES = Path(__file__).resolve().parent.parent.parent / "locales"
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


def practice() -> Path:
    """The folder of the practice."""
    return _from_environment(PRACTICE)


def make():
    """Puts the font into the practice, confirms it and prints all page sets and papers of its cases, as PDF, HTML and text, each
    language into a folder of its own; nothing where that is done."""
    home = practice()
    if _printed().exists():
        return
    (home / "fonts").mkdir(exist_ok=True)
    shutil.copy(importlib.resources.files("fontpkg_noto_sans_arabic") / "files" / FONT, home / "fonts" / "arabic.ttf")
    profile = home / "profile.toml"
    confirmed = re.search(r'^hash = "\w+"', _run("confirm", "--practice", home), re.MULTILINE).group()
    profile.write_text(re.sub(r'^hash = "\w+"', confirmed, profile.read_text("utf-8"), flags=re.MULTILINE), "utf-8")
    unfinished = home / "printing"
    shutil.rmtree(unfinished, ignore_errors=True)
    for cases in {case.parent for case in home.glob("*/*.toml")}:
        for moment, issued in (("before", "2026-08-03T14:00:00Z"), ("after", "2026-08-12T16:00:00Z")):
            forms = ("--papers", "--as", "pdf,html,text", "--issued", issued)
            out = unfinished / cases.name
            _run("print", *cases.glob("*.toml"), "--practice", home, "--moment", moment, "--out", out, *forms)
    unfinished.rename(_printed())


def _printed() -> Path:
    return practice() / "printed"


def files(language: str, pattern: str) -> list[Path]:
    """Files of a language ("*": of every one) by name."""
    found = sorted(_printed().glob(f"{language}/{pattern}"))
    if not found:
        raise Missing(f"no file {pattern} was printed for {language}")
    return found
