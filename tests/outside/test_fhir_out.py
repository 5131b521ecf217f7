"""What goes out as FHIR R4: read with other people's models, and its doses compared with the boxes of packet.json.

Shape: fhir.resources (R4B models) and fhirclient (R4). Invariants that neither checks: FHIRPath with fhirpathpy; their
expressions are from memory of the R4 definition.
"""

import hashlib
import json
import os
import subprocess
from pathlib import Path

import pytest
from fhir.resources.R4B import get_fhir_model_class
from fhirclient.models import bundle as client_bundle
from fhirpathpy import evaluate

import packets
from test_dosages import as_data, as_list, out_of_order

INVARIANTS = {
    "Appointment": {"app-2": "start.exists() = end.exists()", "app-3": "(start.exists() and end.exists()) or (status in ('proposed' | 'cancelled' | 'waitlist'))"},
    "Consent": {"ppc-1": "policy.exists() or policyRule.exists()"},
    "CarePlan": {"cpl-3": "activity.all(detail.empty() or reference.empty())"},
    "Bundle": {"bdl-3": "entry.all(request.exists())", "bdl-5": "entry.all(resource.exists() or request.exists())"},
}


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
            code, text, said = program("fhir", "out", case, "-p", folder / "practice", "-m", packet["moment"], "--issued", issued)
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
