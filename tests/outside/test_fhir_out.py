"""What goes out as FHIR R4: read with other people's models, and its doses compared with the boxes of packet.json.

Shape: fhir.resources (R4B models), fhirclient (R4) and the validator `fhir` of npm (R4). Invariants that neither checks: FHIRPath with fhirpathpy; their
expressions are from memory of the R4 definition.
"""

import hashlib
import json
import os
import shutil
import subprocess
from pathlib import Path

import pytest
from fhir.resources.R4B import get_fhir_model_class
from fhirclient.models import bundle as client_bundle
from fhirpathpy import evaluate

import fhir_examples
import packets
from test_dosages import as_data, as_list, broken, out_of_order

INVARIANTS = {
    "Appointment": {"app-2": "start.exists() = end.exists()", "app-3": "(start.exists() and end.exists()) or (status in ('proposed' | 'cancelled' | 'waitlist'))"},
    "Consent": {"ppc-1": "policy.exists() or policyRule.exists()"},
    "CarePlan": {"cpl-3": "activity.all(detail.empty() or reference.empty())"},
    "Bundle": {"bdl-3": "entry.all(request.exists())", "bdl-5": "entry.all(resource.exists() or request.exists())"},
}


# What the validator of npm may say of a bundle that is right, and why.
ALLOWED = {
    "could not be found": "its package holds no copy of this value set, so it cannot look a code up",
    "not found in value set": "the value set is an example; the standard lets every code of a drug stand here",
}
VALIDATE = """
const { Fhir } = require("fhir");
const bundles = JSON.parse(require("fs").readFileSync(0, "utf8"));
const checked = (resource) => new Fhir().validate(resource, { errorOnUnexpected: true });
console.log(JSON.stringify(bundles.map((bundle) => [bundle, ...bundle.entry.map((entry) => entry.resource)].map(checked))));
"""


def program(*arguments):
    ran = subprocess.run([os.environ["VITREOLEAF"], *map(str, arguments)], capture_output=True, text=True)
    return ran.returncode, ran.stdout, ran.stderr


@pytest.fixture(scope="module")
def bundles():
    """The bundle of each demo packet, issued when the packet was."""
    folder = packets.root()
    made = {}
    for packet in packets.packets():
        case = packet.path.with_name("case.toml")
        if case.exists():
            issued = packet["issued"].replace("+00:00", "Z")
            code, text, said = program("fhir", "out", case, "-p", folder / "practice", "-m", packet["moment"], "--issued", issued, "--papers")
            assert code in (0, 1), said
            made[packet.stem] = (packet, json.loads(text), code)
    assert len(made) >= 10
    return made


def resources(bundle, kind):
    return [entry["resource"] for entry in bundle["entry"] if entry["resource"]["resourceType"] == kind]


def test_every_resource_is_what_the_models_say(bundles):
    """FHIR-OUT-1: each resource is valid by the models of fhir.resources (R4B); the bundle by those of fhirclient (R4)."""
    for _, bundle, _ in bundles.values():
        for entry in bundle["entry"]:
            get_fhir_model_class(entry["resource"]["resourceType"]).model_validate(entry["resource"])
        get_fhir_model_class("Bundle").model_validate(bundle)
        client_bundle.Bundle(bundle, strict=True)


def validated(bundles: list[dict]) -> list[list[dict]]:
    """What the validator of npm says of each bundle and each resource in it."""
    folder = os.environ.get("VITREOLEAF_FHIR")
    place = fhir_examples.validator(Path(folder)) if folder else None
    if place is None:
        pytest.skip("NOT CHECKED: npm or node is missing, so the validator could not be fetched")
    ran = subprocess.run([shutil.which("node"), "-e", VALIDATE], cwd=place, input=json.dumps(bundles), capture_output=True, text=True)
    assert ran.returncode == 0, ran.stderr
    return json.loads(ran.stdout)


def complaints(answers: list[list[dict]]) -> list:
    """What is not allowed for a reason."""
    messages = [message for answer in answers for one in answer for message in one["messages"]]
    return [one for one in messages if one["severity"] == "error" or not any(words in one["message"] for words in ALLOWED)]


def test_another_validator_finds_nothing(bundles):
    """FHIR-OUT-7: the validator of npm, by the definitions of R4; what it may say all the same stands with its reason."""
    answers = validated([bundle for _, bundle, _ in bundles.values()])
    assert complaints(answers) == []
    assert all(one["valid"] for answer in answers for one in answer)


def test_another_validator_finds_what_is_wrong(bundles):
    """Not vacuous: a status that does not exist, a key that nobody knows."""
    bundle = json.loads(json.dumps(next(bundle for _, bundle, _ in bundles.values())))
    next(entry for entry in bundle["entry"] if entry["resource"]["resourceType"] == "Procedure")["resource"]["status"] = "almost"
    assert complaints(validated([bundle])) != []


def test_invariants_hold(bundles):
    """FHIR-OUT-2: rules that the models do not check."""
    for stem, (_, bundle, _) in bundles.items():
        for kind, rules in INVARIANTS.items():
            for resource in [bundle] if kind == "Bundle" else resources(bundle, kind):
                for name, rule in rules.items():
                    assert evaluate(resource, rule) == [True], (stem, name, resource)


def test_an_invariant_that_is_broken_is_noticed(bundles):
    """Not vacuous."""
    appointment = next(found for _, bundle, _ in bundles.values() for found in resources(bundle, "Appointment"))
    broken = {key: value for key, value in appointment.items() if key != "end"}
    assert evaluate(broken, INVARIANTS["Appointment"]["app-2"]) == [False]
    with pytest.raises(Exception):
        get_fhir_model_class("Appointment").model_validate(appointment | {"participant": []} | {"status": 7})


def test_doses_are_the_boxes_on_paper(bundles):
    """FHIR-OUT-3: the dosages of each MedicationRequest expand to the doses that were printed."""
    seen = 0
    for packet, bundle, _ in bundles.values():
        requests = resources(bundle, "MedicationRequest")
        if packet["moment"] != "after":
            assert requests == []
            continue
        dosages = [row | {"dosages": request["dosageInstruction"]} for row, request in zip(packet["dosages"], requests, strict=True)]
        data = packet.data | {"dosages": dosages}
        assert as_data(data) == as_list(data) and out_of_order(data) == []
        assert [wrong for row in dosages for dosage in row["dosages"] for wrong in broken(dosage)] == []
        seen += sum(map(len, map(lambda request: request["dosageInstruction"], requests)))
    assert seen > 5


def test_files_are_named_with_their_hash(bundles):
    """FHIR-OUT-4: a DocumentReference for each file of the packet but the data, with size and hash of that very file."""
    for packet, bundle, _ in bundles.values():
        found = {one["content"][0]["attachment"]["title"]: one for one in resources(bundle, "DocumentReference")}
        pages = ("consent", "aftercare", "surgeon", "desk")
        issued = {row["file"] for row in packet["documents"] if row["page"] in pages}
        assert issued <= set(found), packet.stem
        for name, reference in found.items():
            path = packet.path.with_name(name)
            if path.exists() and packet["both_eyes"] is None:
                content = path.read_bytes()
                assert reference["masterIdentifier"]["value"] == "sha256:" + hashlib.sha256(content).hexdigest(), name
                assert reference["content"][0]["attachment"]["size"] == len(content)


def test_papers_are_named_with_their_hash(bundles, tmp_path):
    """FHIR-OUT-8: of the papers around the treatment those that `print` issues, and no other, each with the hash of that file."""
    folder, seen = packets.root(), set()
    for stem, (packet, bundle, _) in bundles.items():
        issued, case = packet["issued"].replace("+00:00", "Z"), packet.path.with_name("case.toml")
        out = tmp_path / stem
        choice = ("-p", folder / "practice", "--issued", issued, "--out", out)
        assert program("print", case, *choice, "-m", packet["moment"], "--papers")[0] in (0, 1)
        if packet["moment"] == "before":
            assert program("print", case, *choice, "--page", "suitability")[0] == 0
        printed = {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in out.iterdir() if path.suffix in (".pdf", ".ics")}
        references = {one["content"][0]["attachment"]["title"]: one for one in resources(bundle, "DocumentReference")}
        if packet["both_eyes"] is None:
            told = {name: one["masterIdentifier"]["value"].removeprefix("sha256:") for name, one in references.items()}
            assert told == printed, stem
        seen |= {(name.rsplit("-", 1)[1], "type" in one) for name, one in references.items()}
    for paper in ("note.pdf", "letter.pdf", "outcome.pdf", "session.pdf", "suitability.pdf"):
        assert (paper, True) in seen, (paper, seen)
    assert ("withdrawal.pdf", False) in seen


def test_what_a_register_issued_goes_out(tmp_path):
    """FHIR-OUT-9: with a register the files are those that were issued into it, at the time of their issue; before that there is none."""
    folder, register = packets.root(), tmp_path / "register.sqlite3"
    case, issued = folder / "ring-implant" / "case.toml", "2026-08-07T16:00:00Z"
    whose = ("-p", folder / "practice", "--register", register)
    arguments = [os.environ["VITREOLEAF"], "people", *whose, "--role", "surgeon", "Dr. Ada Sample"]
    subprocess.run(arguments, input=b"correct horse battery\n", check=True, capture_output=True)
    assert program("fhir", "out", case, *whose)[0] == 2
    out = tmp_path / "pages"
    assert program("print", case, *whose, "--by", "Dr. Ada Sample", "--issued", issued, "--papers", "--out", out)[0] == 0
    code, text, said = program("fhir", "out", case, *whose)
    assert code == 0, said
    bundle = json.loads(text)
    told = {one["content"][0]["attachment"]["title"]: one["masterIdentifier"]["value"] for one in resources(bundle, "DocumentReference")}
    printed = {path.name: "sha256:" + hashlib.sha256(path.read_bytes()).hexdigest() for path in out.iterdir() if path.suffix != ".json"}
    assert told == printed and any("note" in name for name in told)
    assert bundle["timestamp"] == issued


def test_what_is_withheld_stays_here(bundles):
    """FHIR-OUT-5: a consent that is withheld is not told of, nor are drops; the exit code says so."""
    assert any(packet["withheld"] for packet, _, _ in bundles.values())
    for packet, bundle, code in bundles.values():
        assert (code == 1) == packet["withheld"]
        if packet["withheld"]:
            assert resources(bundle, "MedicationRequest") == []
            assert packet["moment"] == "after" or resources(bundle, "Consent") == []


def test_the_same_case_gives_the_same_bytes():
    """FHIR-OUT-6: nothing in it changes from one run to the next."""
    folder = packets.root()
    case = Path(folder) / "ring-implant" / "case.toml"
    run = lambda: program("fhir", "out", case, "-p", folder / "practice", "--issued", "2026-08-07T16:00:00Z")  # noqa: E731
    assert run() == run()
