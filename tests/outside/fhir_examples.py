"""Real input that nobody here wrote: the examples of FHIR R4 and of the International Patient Summary, and the terminology of HL7
(all CC0), as npm packages.

They are fetched once with npm into a folder beside the virtual environment. Without npm there are none, and the checks say so.
"""

import json
import shutil
import subprocess
import tarfile
from pathlib import Path

EXAMPLES = {"hl7.fhir.r4.examples": "4.0.1", "hl7.fhir.uv.ips": "2.0.0"}
PACKAGES = EXAMPLES | {"hl7.terminology.r4": "7.0.1", "hl7.fhir.r4.expansions": "4.0.1"}

# Where the examples lie within their package, and which files are resources of the kinds that are read.
FOLDERS = ("package", "package/example")
KINDS = (
    "Patient", "Practitioner", "Condition", "Observation", "Procedure", "AllergyIntolerance", "MedicationStatement",
    "MedicationRequest", "Appointment",
)  # fmt: skip


def place(folder: Path, name: str) -> Path:
    """Where a package lies."""
    return folder / f"{name}-{PACKAGES[name]}"


def fetch(folder: Path) -> bool:
    """Whether the packages are there; fetches them if npm is."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, version in PACKAGES.items():
        if place(folder, name).exists():
            continue
        npm = shutil.which("npm")
        if npm is None:
            return False
        packed = subprocess.run([npm, "pack", "--silent", f"{name}@{version}"], cwd=folder, capture_output=True, text=True)
        archive = folder / f"{name}-{version}.tgz"
        if packed.returncode != 0 or not archive.exists():
            raise RuntimeError(f"npm could not fetch {name} {version}: {packed.stderr.strip()}")
        part = folder / f"{name}.part"
        with tarfile.open(archive) as tar:
            tar.extractall(part, filter="data")
        part.rename(place(folder, name))
        archive.unlink()
    return True


VALIDATOR = "fhir@4.12.0"


def validator(folder: Path) -> Path | None:
    """The folder from which node finds the validator of npm; none without npm."""
    at = folder / VALIDATOR
    npm = shutil.which("npm")
    if npm is None or shutil.which("node") is None:
        return None
    if not (at / "node_modules" / "fhir").exists():
        at.mkdir(parents=True, exist_ok=True)
        quiet = ["--silent", "--no-audit", "--no-fund", "--ignore-scripts", "--prefix", str(at)]
        ran = subprocess.run([npm, "install", *quiet, VALIDATOR], capture_output=True, text=True)
        if ran.returncode != 0:
            raise RuntimeError(f"npm could not fetch {VALIDATOR}: {ran.stderr.strip()}")
    return at


def files(folder: Path) -> list[Path]:
    """The files of single resources that are read, and the bundles."""
    found = []
    for name in EXAMPLES:
        for within in FOLDERS:
            for path in sorted((place(folder, name) / within).glob("*.json")):
                if path.name.split("-")[0] in (*KINDS, "Bundle"):
                    found.append(path)
    return found


def resources(value: dict):
    """All resources of a file with their place, as the program names it."""

    def walk(value, place):
        if value.get("resourceType") == "Bundle":
            for number, entry in enumerate(value.get("entry", []), 1):
                if entry.get("resource"):
                    yield from walk(entry["resource"], [*place, str(number)])
        elif value.get("resourceType"):
            name = value["resourceType"] + (f"/{value['id']}" if value.get("id") else "")
            yield (f"entry {'.'.join(place)} {name}" if place else name), value

    yield from walk(value, [])


def read(path: Path) -> dict:
    return json.loads(path.read_text(encoding="utf-8"))
