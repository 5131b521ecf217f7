"""What the formulary of the program says of the handling of a drug, read from its file."""

import functools
import tomllib
from pathlib import Path

PATH = Path(__file__).resolve().parent.parent.parent / "templates" / "formulary.toml"


@functools.cache
def drugs() -> dict[str, dict]:
    """The rows by their key."""
    return {row["key"]: row for row in tomllib.loads(PATH.read_text(encoding="utf-8"))["drug"]}
