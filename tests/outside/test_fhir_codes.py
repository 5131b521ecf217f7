"""The codes of `templates/fhir/`, compared with the packages in which HL7 publishes them (npm, all CC0).

SNOMED CT is licensed; its Global Patient Set is free, and HL7 publishes it whole as a value set. ATC, RxNorm and LOINC are in no
such package: where a row was read stands in the row.
"""

import os
import tomllib
from pathlib import Path

import pytest

import fhir_examples

TABLES = Path(__file__).parents[2] / "templates" / "fhir"

# Where HL7 publishes the codes of a system: package, file.
PUBLISHED = {
    "snomed": ("hl7.terminology.r4", "ValueSet-snomed-intl-gps.json"),
    "route": ("hl7.terminology.r4", "CodeSystem-v3-RouteOfAdministration.json"),
    "act-site": ("hl7.terminology.r4", "CodeSystem-v3-ActSite.json"),
    "v2-0163": ("hl7.terminology.r4", "CodeSystem-v2-0163.json"),
    "vision-eye": ("hl7.fhir.r4.examples", "CodeSystem-vision-eye-codes.json"),
}
TYPES_OF_DOCUMENTS = ("ValueSet-c80-doc-typecodes.json", "ValueSet-doc-typecodes.json")


def codes(value) -> set[str]:
    """Every code of a code system, value set or expansion."""
    if isinstance(value, list):
        return set().union(*map(codes, value))
    if isinstance(value, dict):
        own = {value["code"]} if isinstance(value.get("code"), str) else set()
        return own.union(*map(codes, value.values()))
    return set()


@pytest.fixture(scope="module")
def published():
    """The codes in a file of a package."""
    folder = os.environ.get("VITREOLEAF_FHIR")
    if not folder or not fhir_examples.fetch(Path(folder)):
        pytest.skip("NOT CHECKED: npm is missing, so the packages of HL7 could not be fetched")

    def read(package: str, name: str) -> set[str]:
        return codes(fhir_examples.read(fhir_examples.place(Path(folder), package) / "package" / name))

    return read


def rows():
    """Every row of every table with the file it stands in."""
    for path in sorted(TABLES.glob("*.toml")):
        for table in tomllib.loads(path.read_text(encoding="utf-8")).values():
            if isinstance(table, list) and table and isinstance(table[0], dict):
                yield from ((path.name, row) for row in table)


def missing(system: str, known: set[str]) -> list[str]:
    return [f"{file} {row['code']}" for file, row in rows() if row.get("system") == system and row["code"] not in known]


@pytest.mark.parametrize("system", PUBLISHED)
def test_every_code_is_published(published, system):
    """FHIR-CODE-1: each code of the system is in the file in which HL7 publishes it; of SNOMED CT in the Global Patient Set."""
    known = published(*PUBLISHED[system])
    assert len(known) > 1 and any(row.get("system") == system for _, row in rows())
    assert missing(system, known) == []


def test_types_of_documents_are_those_of_fhir(published):
    """FHIR-CODE-2: each type of a document is one of those that FHIR R4 lists."""
    known = set().union(*(published("hl7.fhir.r4.expansions", name) for name in TYPES_OF_DOCUMENTS))
    types = [row["loinc"] for file, row in rows() if file == "documents.toml"]
    assert len(types) > 5 and set(types) <= known


def test_what_rests_on_memory_is_said():
    """FHIR-CODE-3: a row from memory is the exception that the head of its file names."""
    from_memory = [(file, row.get("code")) for file, row in rows() if row["mark"] == "memory"]
    assert from_memory == [("medicines.toml", "1546356")]


def test_a_code_outside_the_set_is_noticed(published):
    """Not vacuous: the code of a structure that is licensed is not in the free set."""
    assert "18944008" not in published(*PUBLISHED["snomed"])
    assert missing("snomed", published(*PUBLISHED["snomed"]) - {"23986001"}) == ["codes.toml 23986001"]
