"""The table of items (items/) against the tests that claim them and against the full list of ids: none is forgotten, none
is claimed in vain, and what no program can tell is left to people in words."""

import ast
import re
import tomllib
from pathlib import Path

import pytest

HERE = Path(__file__).resolve().parent
JURISDICTIONS = HERE.parent.parent / "templates" / "jurisdictions"

FAMILIES = {
    "CMS-": 19, "ASC-": 8, "TJC-": 3, "MON-": 4, "GMC-": 5, "BGB-": 12, "GDPR-": 4,
    "IPD-Q": 6, "IPD-C": 6, "IPD-X": 17, "SITE-": 11, "SIG-": 13,
    "LP-": 14, "WCAG-": 7, "UA-": 20, "PDFA-": 8, "ACA-": 5, "RISK-": 5,
    "USP-": 10, "UMS-": 5, "ISMP-": 11, "DATE-": 8, "DROP-": 14, "ICS-": 11,
}
"""How many items each family has; they are numbered from 1."""

ALL = [f"{family}{number}" for family, count in FAMILIES.items() for number in range(1, count + 1)]
ID = re.compile(r"\b(?:CMS|ASC|TJC|MON|GMC|BGB|GDPR|IPD|SITE|SIG|LP|WCAG|UA|PDFA|ACA|RISK|USP|UMS|ISMP|DATE|DROP|ICS)-[QCX]?\d+\b")
RANGE = re.compile(r"\b([A-Z]+-)(\d+) to \1(\d+)\b")
PEOPLE_ONLY = {"IPD-X14", "IPD-X16", "IPD-X17", "ACA-2", "ACA-3", "UA-20"}
"""A readability score is not printed; the next two are about how the pages came to be; what a practice adds or hangs up; what
the Matterhorn Protocol itself leaves to people."""


def rows() -> list[dict]:
    texts = [path.read_text(encoding="utf-8") for path in sorted((HERE / "items").glob("*.toml"))]
    return [row for text in texts for row in tomllib.loads(text)["item"]]


def named(text: str) -> list[str]:
    """The items a text names, "X-1 to X-3" being three."""
    ranges = [(family, range(int(first), int(last) + 1)) for family, first, last in RANGE.findall(text) if family in FAMILIES]
    return [*ID.findall(text), *(f"{family}{number}" for family, numbers in ranges for number in numbers)]


def claims(sources: dict[str, str]) -> dict[str, set[str]]:
    """The tests that name an item in their docstring, by item."""
    found: dict[str, set[str]] = {}
    for module, source in sources.items():
        for node in ast.parse(source).body:
            if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
                for item in named(ast.get_docstring(node) or ""):
                    found.setdefault(item, set()).add(f"{module}.{node.name}")
    return found


def sources() -> dict[str, str]:
    return {path.stem: path.read_text(encoding="utf-8") for path in sorted(HERE.glob("test_*.py"))}


def incomplete(table: list[dict]):
    """Each id once; each row says what, whence, and how it is checked or why people must."""
    ids = [row["id"] for row in table]
    found = [f"{item} is missing" for item in ALL if item not in ids]
    found += [f"{item} is in the table {ids.count(item)} times" for item in sorted(set(ids)) if ids.count(item) > 1]
    found += [f"{item} is no item" for item in ids if item not in ALL]
    for row in table:
        lacking = [key for key in ("what", "source") if len(row.get(key, "").split()) < 2]
        found += [f"{row['id']} has no {key}" for key in lacking]
        if not row.get("checked_by") and len(row.get("people", "").split()) < 3:
            found.append(f"{row['id']} is neither checked nor left to people")
    return found


def disagreeing(table: list[dict], claimed: dict[str, set[str]]):
    """The table names exactly the tests that claim an item."""
    found = [f"{item} is claimed and not in the table" for item in claimed if item not in {row["id"] for row in table}]
    for row in table:
        listed, claiming = set(row["checked_by"]), claimed.get(row["id"], set())
        found += [f"{row['id']}: {test} does not claim it" for test in sorted(listed - claiming)]
        found += [f"{row['id']}: {test} is not in the table" for test in sorted(claiming - listed)]
    return found


def test_table_is_complete():
    """See `incomplete`; what a program can tell is told by one."""
    assert incomplete(rows()) == []
    assert {row["id"] for row in rows() if not row["checked_by"]} == PEOPLE_ONLY


def test_table_agrees_with_the_tests():
    """See `disagreeing`."""
    assert disagreeing(rows(), claims(sources())) == []


@pytest.mark.parametrize("path", sorted(JURISDICTIONS.glob("*.toml")), ids=lambda path: path.stem)
def test_jurisdictions(path):
    """What a jurisdiction asks for by the id of an item is in the table; each element has a citation and a day of review, and
    the list says that it is no legal advice."""
    rules = tomllib.loads(path.read_text(encoding="utf-8"))
    assert "no legal advice" in rules["notice"]
    ids = [ID.match(element["id"]) for element in rules["element"]]
    assert {found[0] for found in ids if found} <= set(ALL) and any(ids)
    for element in rules["element"]:
        assert element["citation"] and re.fullmatch(r"20\d\d-\d\d-\d\d", element["reviewed_on"]), element["id"]
        assert element["met_by"] or element["left_to_people"], element["id"]


def test_faults_are_noticed():
    """Not vacuous: a row left out, twice, without a check or a reason; a test that claims nothing, a claim nobody listed."""
    table, claimed = rows(), claims(sources())
    assert incomplete(table[1:]) and incomplete([*table, table[0]]) and incomplete([table[0] | {"source": ""}, *table[1:]])
    assert incomplete([table[0] | {"checked_by": [], "people": ""}, *table[1:]])
    assert disagreeing([table[0] | {"checked_by": ["test_x.test_y"]}, *table[1:]], claimed)
    assert disagreeing(table, claimed | {"CMS-1": set()}) and disagreeing(table, claimed | {"CMS-20": {"test_x.test_y"}})
    assert named("UA-2 to UA-4, LP-1") == ["UA-2", "UA-4", "LP-1", "UA-2", "UA-3", "UA-4"]
    assert claims({"test_x": 'def test_y():\n    """See CMS-1."""\n\ndef other():\n    """CMS-2"""\n'}) == {"CMS-1": {"test_x.test_y"}}
