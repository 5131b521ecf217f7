"""Doses as data: Dosage and Timing of HL7 FHIR R4, and the same doses as in the list of the packet.

Shape: fhir.resources (R4B models). Invariants of Timing.repeat, which that library does not check: FHIRPath with
fhirpathpy; their expressions are from memory of the R4 definition.
"""

import collections
import copy
import datetime
import re

import pytest
from fhir.resources.R4B.dosage import Dosage
from fhirpathpy import evaluate

from packets import Packet

INVARIANTS = {
    "tim-1": "duration.empty() or durationUnit.exists()",
    "tim-2": "period.empty() or periodUnit.exists()",
    "tim-4": "duration.empty() or duration >= 0",
    "tim-5": "period.empty() or period >= 0",
    "tim-6": "periodMax.empty() or period.exists()",
    "tim-7": "durationMax.empty() or duration.exists()",
    "tim-8": "countMax.empty() or count.exists()",
    "tim-9": "offset.empty() or (when.exists() and (when contains 'C').not())",
    "tim-10": "timeOfDay.empty() or when.empty()",
}
UNITS_OF_TIME = {"s", "min", "h", "d", "wk", "mo", "a"}


def broken(dosage: dict) -> list[str]:
    """FHIR-3 to FHIR-6, FHIR-9, FHIR-10: what is wrong with one dosage."""
    repeat = dosage["timing"]["repeat"]
    found = [name for name, rule in INVARIANTS.items() if evaluate(repeat, rule) != [True]]
    try:
        Dosage.model_validate(dosage)
    except ValueError as error:
        found.append(f"not a Dosage: {error}")
    found += [] if repeat["periodUnit"] in UNITS_OF_TIME else [f"FHIR-6 {repeat['periodUnit']}"]
    bounds = [key for key in repeat if key.startswith("bounds")]
    found += [] if len(bounds) == 1 else [f"FHIR-3 {bounds}"]
    bad = [time for time in repeat.get("timeOfDay", []) if not re.fullmatch(r"([01]\d|2[0-3]):[0-5]\d:[0-5]\d", time)]
    found += [f"FHIR-4 {time}" for time in bad]
    found += [] if dosage["doseAndRate"][0]["doseQuantity"] | {"value": 1, "code": "{drop}"} == dosage["doseAndRate"][0]["doseQuantity"] else ["FHIR-10"]
    return found


def expanded(dosage: dict, until: datetime.date):
    """The local times a dosage stands for; the end of its period is part of it (FHIR-3)."""
    repeat = dosage["timing"]["repeat"]
    bounds = repeat["boundsPeriod"]
    day, end = (datetime.date.fromisoformat(bounds.get(key, until.isoformat())) for key in ("start", "end"))
    assert repeat["frequency"] == len(repeat["timeOfDay"]) and repeat["periodUnit"] == "d"
    while day <= end:
        for time in repeat["timeOfDay"]:
            yield datetime.datetime.combine(day, datetime.time.fromisoformat(time))
        day += datetime.timedelta(days=repeat["period"])


def as_data(packet) -> collections.Counter:
    """(drug, local time) of every dose that the dosages stand for."""
    found = collections.Counter()
    for drug in packet["dosages"]:
        for dosage in drug["dosages"]:
            if not dosage.get("asNeededBoolean"):
                until = datetime.date.fromisoformat(drug["last"])
                found.update((drug["drug"], at) for at in expanded(dosage, until))
    return found


def as_list(packet) -> collections.Counter:
    at = "%Y-%m-%dT%H:%M"
    return collections.Counter(
        (dose["drug"], datetime.datetime.strptime(dose["at"], at)) for dose in packet["doses"] if not dose["given"]
    )


def out_of_order(packet) -> list[str]:
    """FHIR-9, UMS-3: the sequence counts up, and no stretch begins before the one before it has ended."""
    found = []
    for drug in packet["dosages"]:
        numbers = [dosage["sequence"] for dosage in drug["dosages"]]
        if numbers != list(range(1, len(numbers) + 1)):
            found.append(f"{drug['drug']}: {numbers}")
        bounds = [dosage["timing"]["repeat"]["boundsPeriod"] for dosage in drug["dosages"]]
        for before, after in zip(bounds, bounds[1:]):
            if not before.get("end") or before["end"] >= after["start"]:
                found.append(f"{drug['drug']}: {before} {after}")
    return found


def test_dosages_hold(packet: Packet):
    """FHIR-3 to FHIR-6, FHIR-9, FHIR-10, see `broken`; the eye is that of the case (FHIR-9, SITE-2)."""
    for drug in packet["dosages"]:
        for dosage in drug["dosages"]:
            assert broken(dosage) == []
            assert dosage["site"]["text"] == packet.eye and packet.eye in dosage["text"]


def test_dosages_equal_doses(packet: Packet):
    """ICS-10, FHIR-9: dose by dose the same as the list, which is compared with paper and calendar file elsewhere."""
    assert as_data(packet) == as_list(packet)


def test_sequence(packet: Packet):
    """FHIR-9, UMS-3, see `out_of_order`."""
    assert out_of_order(packet) == []


# The checks of the checks.


@pytest.fixture
def data(sound_aftercare) -> dict:
    return copy.deepcopy(sound_aftercare.packet.data)


def test_damage_is_noticed(data):
    """Not vacuous: each invariant and each rule of form has a dosage that breaks it and it alone."""
    dosage = data["dosages"][0]["dosages"][0]
    assert broken(dosage) == []
    for name, change in {
        "tim-1": {"duration": 1}, "tim-4": {"duration": -1, "durationUnit": "min"}, "tim-5": {"period": -1},
        "tim-7": {"durationMax": 2}, "tim-8": {"countMax": 2}, "tim-9": {"offset": 10}, "tim-10": {"when": ["MORN"]},
        "FHIR-6 day": {"periodUnit": "day"}, "FHIR-4 8:00:00": {"timeOfDay": ["8:00:00"]},
    }.items():
        damaged = copy.deepcopy(dosage)
        damaged["timing"]["repeat"] |= change
        assert [found for found in broken(damaged) if not found.startswith("not a Dosage")] == [name]
    for key, name in {"periodUnit": "tim-2", "period": "tim-6"}.items():
        repeat = dict(dosage["timing"]["repeat"], periodMax=3)
        del repeat[key]
        assert evaluate(repeat, INVARIANTS[name]) == [False]
    damaged = copy.deepcopy(dosage)
    damaged["doseAndRate"][0]["doseQuantity"]["code"] = "[drp]"
    assert broken(damaged) == ["FHIR-10"]


def test_lost_doses_are_noticed(data):
    """Not vacuous: a day less, another time, a stretch out of order."""
    assert as_data(data) == as_list(data) and out_of_order(data) == []
    timed = next(drug for drug in data["dosages"][::-1] if "timeOfDay" in drug["dosages"][0]["timing"]["repeat"])
    dosages = timed["dosages"]
    repeat = dosages[-1]["timing"]["repeat"]
    kept = copy.deepcopy(repeat)
    repeat["boundsPeriod"]["start"] = (
        datetime.date.fromisoformat(kept["boundsPeriod"]["start"]) + datetime.timedelta(days=1)
    ).isoformat()
    assert as_data(data) != as_list(data)
    dosages[-1]["timing"]["repeat"] = kept | {"timeOfDay": ["03:33:00"], "frequency": 1}
    assert as_data(data) != as_list(data)
    timed["dosages"] = dosages[::-1] if len(dosages) > 1 else [dosages[0] | {"sequence": 2}]
    assert out_of_order(data) != []
