"""Reading FHIR R4: real input that nobody here wrote, the examples of the standard and of the International Patient Summary.

Each file of a kind that is read, and each bundle, goes through `fhir in` as it is. None makes the program fail, no resource
vanishes, and `fhir-examples.toml` says how many of each kind were taken, asked and not taken, and why.
"""

import collections
import concurrent.futures
import json
import os
import subprocess
import tomllib
from pathlib import Path

import pytest

import fhir_examples
from fhir_examples import KINDS

TABLE = Path(__file__).with_name("fhir-examples.toml")
REFUSED_WHOLE = ("several patients", "no resource of FHIR")


@pytest.fixture(scope="module")
def answers():
    """What the program answers to each file: exit code, data or sentence."""
    folder = os.environ.get("VITREOLEAF_FHIR")
    if not folder or not fhir_examples.fetch(Path(folder)):
        pytest.skip("NOT CHECKED: npm is missing, so the examples of FHIR could not be fetched")
    paths = fhir_examples.files(Path(folder))
    with concurrent.futures.ThreadPoolExecutor(2) as pool:
        return dict(zip(paths, pool.map(ask, paths)))


def ask(path: Path, side: str = "right"):
    program = os.environ["VITREOLEAF"]
    ran = subprocess.run([program, "fhir", "in", path, "--side", side, "--format", "json"], capture_output=True, text=True)
    return ran.returncode, json.loads(ran.stdout) if ran.returncode == 0 else None, ran.stderr


def test_enough_is_read(answers):
    """Not vacuous: the packages hold what they held when the table was made."""
    kinds = collections.Counter(path.name.split("-")[0] for path in answers)
    assert kinds["Patient"] >= 20 and kinds["Observation"] >= 60 and kinds["Bundle"] >= 40, kinds


def test_no_example_makes_the_program_fail(answers):
    """FHIR-IN-1: exit code 0, or 2 with a sentence that says why the file as a whole is refused."""
    wrong = []
    for path, (code, _, said) in answers.items():
        if code != 0 and not (code == 2 and any(words in said for words in REFUSED_WHOLE)):
            wrong.append((path.name, code, said[-300:]))
    assert wrong == []


def named(answer: dict) -> set[str]:
    """Each resource that the answer speaks of."""
    origins = [origin for taken in answer["taken"] for origin in taken["origins"]]
    origins += [candidate["origin"] for asked in answer["asked"] for candidate in asked["candidates"]]
    origins += [left["origin"] for left in answer["not_taken"]]
    return {origin["resource"] for origin in origins}


def test_no_resource_vanishes(answers):
    """FHIR-IN-2: every resource is taken, asked about or listed with the reason."""
    lost = []
    for path, (_, answer, _) in answers.items():
        if answer is not None:
            there = {place for place, value in fhir_examples.resources(fhir_examples.read(path)) if value["resourceType"] != "Medication"}
            lost += [(path.name, place) for place in there - named(answer)]
    assert lost == []


def counted(answers) -> dict[str, dict[str, int]]:
    """By kind of resource: how often it was taken, and how often asked or not taken, by reason."""
    table = collections.defaultdict(collections.Counter)

    def count(origin, word):
        kind = origin["resource"].split(" ")[-1].split("/")[0]
        if kind in KINDS:
            table[kind][word] += 1

    for _, answer, _ in answers.values():
        for taken in (answer or {}).get("taken", []):
            for origin in taken["origins"]:
                count(origin, "taken")
        for asked in (answer or {}).get("asked", []):
            for candidate in asked["candidates"]:
                count(candidate["origin"], f"asked_{asked['why']}")
        for left in (answer or {}).get("not_taken", []):
            count(left["origin"], f"not_taken_{left['why']}")
    return {kind: dict(sorted(row.items())) for kind, row in sorted(table.items())}


def test_the_table_says_what_was_taken_asked_and_not_taken(answers):
    """FHIR-IN-3: the table beside these checks is what happens."""
    found = counted(answers)
    if os.environ.get("UPDATE_EXPECTED"):
        head = "# How often resources of each kind in the examples of FHIR R4 4.0.1 and IPS 2.0.0 were taken, asked about, not taken.\n"
        rows = (f"\n[{kind}]\n" + "".join(f"{word} = {number}\n" for word, number in row.items()) for kind, row in found.items())
        TABLE.write_text(head + "".join(rows), encoding="utf-8")
    assert found == tomllib.loads(TABLE.read_text(encoding="utf-8"))


def test_what_does_not_count_is_never_taken(answers):
    """FHIR-IN-4: of resources in error, refuted, not taken or not done, nothing is taken."""
    wrong = []
    for path, (_, answer, _) in answers.items():
        taken = {origin["resource"] for one in (answer or {}).get("taken", []) for origin in one["origins"]}
        for place, value in fhir_examples.resources(fhir_examples.read(path)):
            verified = json.dumps(value.get("verificationStatus", ""))
            dead = value.get("status") in ("entered-in-error", "not-done", "not-taken") or "refuted" in verified or "entered-in-error" in verified
            if dead and place in taken:
                wrong.append((path.name, place))
    assert wrong == []
