"""How each drop is directed on paper: how much, when, and under which name (USP General Chapter <17>, labels of
prescription containers; universal medication schedule, Arch Intern Med 2011, 464 adults)."""

import collections
import dataclasses
import datetime
import re
import tomllib

import pytest

import formulary
import packets
import printed_calendar
import tags
import wording
from packets import Document, Packet

NAMES = {
    "morning": "morning", "noon": "midday", "evening": "evening", "bedtime": "bedtime", "wake_up": "on waking",
    "get_up": "when you get up", "before_sleep": "before you sleep",
}
"""How the page calls the parts of a day; noon on the clock says so by itself."""

PART = "|".join(NAMES.values())
AMOUNT = r"\b\d+ drops?\b"


def courses(document: Document) -> list[str]:
    """The list of drops, one item each."""
    blocks = wording.section(wording.blocks(document), 2, r"^your drops$").blocks
    return [block.text for block in blocks if block.kind == "LBody"]


def disordered(items: list[str], names: list[str]):
    """USP-1: one item for each drug, which begins with name and strength, then says how much, then the rest."""
    found = []
    for name in names:
        own = [item for item in items if item.startswith(f"{name}:")]
        if len(own) != 1:
            found.append(f"{len(own)} items begin with {name}")
            continue
        said = re.sub(r"^[^:]*: ", "", own[0])
        if not said.startswith("1 drop"):
            found.append(f"{name}: {said[:40]!r} comes before the directions")
    return found


def test_name_and_directions_come_first(aftercare: Document):
    """USP-1, see `disordered`."""
    assert disordered(courses(aftercare), [drug["name"] for drug in aftercare.packet["dosages"]]) == []


def mixed(items: list[str]):
    """USP-3: the sentence that says when names no amount, and the sentence that says how much names no time of day."""
    found = []
    for sentence in wording.sentences(items):
        when = re.match(r"When(, on a full day)?: ", sentence) or re.search(PART, sentence)
        if when and re.search(AMOUNT, sentence):
            found.append(sentence)
    return found


def amounts_beside_boxes(doses: list[printed_calendar.Dose]):
    """USP-3: a box says when; how much is said above the calendar for all of them."""
    return [f"{dose.at}: {dose.note}" for dose in doses if re.search(r"\bdrops?\b(?! a day)", dose.note)]


def test_amount_apart_from_time(aftercare: Document):
    """USP-3 in the list of drops and in the calendar, see `mixed` and `amounts_beside_boxes`."""
    assert mixed(courses(aftercare)) == []
    doses = printed_calendar.read(aftercare.path)
    assert amounts_beside_boxes(doses) == []
    assert not doses or re.search(r"Each box is 1 drop", wording.text(aftercare))


def mixed_data(dosage: dict) -> bool:
    """USP-3: not one amount of 1 in its own field, or an amount inside the timing."""
    amounts = [one["doseQuantity"]["value"] for one in dosage.get("doseAndRate", [])]
    return amounts != [1] or bool(re.search("dose|drop|quantity", str(dosage["timing"]), re.I))


def test_amount_apart_from_time_as_data(packet: Packet):
    """USP-3 in the dosages, see `mixed_data`."""
    assert [one["text"] for drug in packet["dosages"] for one in drug["dosages"] if mixed_data(one)] == []


def hidden_periods(heads: list[list[tuple[str, float]]]):
    """USP-5: where the head of a column has a part of the day and a clock time, the part comes first and in no smaller print.
    `heads`: text and size of each run."""
    found = []
    for runs in heads:
        clock = [(at, size) for at, (text, size) in enumerate(runs) if re.match(r"\d{1,2}:\d{2}", text)]
        part = [(at, size) for at, (text, size) in enumerate(runs) if re.search(r"morning|evening|bedtime|waking|get|sleep", text)]
        if clock and part and (part[0] > clock[0] or part[0][1] < clock[0][1] - 0.1):
            found.append(" ".join(text for text, _ in runs))
    return found


def column_heads(document: Document) -> list[list[tuple[str, float]]]:
    """The runs of each head of the calendar, with their sizes."""
    reading = tags.reading(document.path)
    heads = [head for head in reading.elements("TH") if printed_calendar.CLOCK.search(reading.text(head))]
    return [[(run.text, run.size) for content in head.contents() for run in reading.runs.get(content, [])] for head in heads]


def nameless(doses: list[printed_calendar.Dose], packet: Packet):
    """USP-5: each dose at home that belongs to a named part of the day says it, noon by the clock's own word."""
    named = {(d["name"], d["at"]): d["period"] for d in packet["doses"] if not d["given"] and d["period"] in NAMES}
    text = {(_name(dose.drug, packet), dose.at.strftime("%Y-%m-%dT%H:%M")): f"{dose.head} {dose.note}" for dose in doses}
    found = []
    for (name, at), period in named.items():
        words = text.get((name, at), "")
        if NAMES[period] not in words and not (at.endswith("12:00") and "noon" in words):
            found.append(f"{name} at {at}: {words!r}")
    return found


def _name(head: str, packet: Packet) -> str | None:
    return next((drug["name"] for drug in packet["dosages"] if head.startswith(drug["name"])), None)


def test_part_of_day_before_clock(aftercare: Document):
    """USP-5, UMS-1, see `hidden_periods` and `nameless`."""
    doses = printed_calendar.read(aftercare.path)
    assert hidden_periods(column_heads(aftercare)) == []
    assert not doses or nameless(doses, aftercare.packet) == []


def listed(text: str) -> list[str]:
    """The times of day of a list in words."""
    return [one for one in re.split(r",? and |, ", text.strip(" .")) if one]


def full_days(packet: Packet) -> dict[tuple[str, int], int]:
    """The most doses a date has at home, by drug and step."""
    days: collections.Counter = collections.Counter(
        (dose["name"], dose["step"], dose["at"][:10]) for dose in packet["doses"] if not dose["given"]
    )
    most: dict[tuple[str, int], int] = {}
    for (name, step, _), count in days.items():
        most[name, step] = max(most.get((name, step), 0), count)
    return most


def uncounted(texts: dict[str, list[str]], full: dict[tuple[str, int], int]):
    """UMS-2: as many times of day are listed as the fullest date has doses. `texts`: the lists of each drug by step."""
    found = []
    for name, lists in texts.items():
        wanted = [count for (drug, _), count in sorted(full.items()) if drug == name]
        counts = [len(listed(one)) for one in lists]
        if counts != wanted:
            found.append(f"{name}: the page lists {counts} times, the days have {wanted}")
    return found


def printed_lists(document: Document) -> dict[str, list[str]]:
    """The lists of times on the page, in the list of drops or in the table of their steps."""
    found: dict[str, list[str]] = {}
    for drug in document.packet["dosages"]:
        own = next(item for item in courses(document) if item.startswith(drug["name"]))
        when = re.search(r"When(?:, on a full day)?: ([^.]*)\.", own)
        if when:
            found[drug["name"]] = [when[1]]
    reading = tags.reading(document.path)
    for table in reading.elements("Table"):
        caption = next((reading.text(part) for part in table.walk() if part.kind == "Caption"), "")
        name = next((d["name"] for d in document.packet["dosages"] if caption.startswith(f"{d['name']}, step")), None)
        if name:
            cells = [reading.text(cell) for cell in table.walk() if cell.kind == "TD"][1::2]
            found[name] = [re.sub(r"^[^:]*: ", "", cell).split(".")[0] for cell in cells]
    return found


def test_each_time_is_listed(aftercare: Document):
    """UMS-2, see `uncounted`."""
    if aftercare.packet["dosages"]:
        texts = printed_lists(aftercare)
        assert texts and uncounted(texts, full_days(aftercare.packet)) == []


def miscounted(dosage: dict) -> bool:
    """UMS-2: the text lists more or fewer times than the day has doses. Without times of day it is used when needed."""
    repeat = dosage["timing"]["repeat"]
    times = listed(dosage["text"].partition(": ")[2])
    return "timeOfDay" in repeat and not len(times) == len(repeat["timeOfDay"]) == repeat["frequency"]


def test_each_time_is_listed_as_data(packet: Packet):
    """UMS-2 in the dosages, see `miscounted`."""
    assert [one["text"] for drug in packet["dosages"] for one in drug["dosages"] if miscounted(one)] == []


WINDOWS = {"morning": (6, 8), "noon": (11, 13), "evening": (16, 18), "bedtime": (21, 23)}
"""Hours of the universal medication schedule (from memory)."""


def outside_windows(times: set[tuple[str, str]]):
    """UMS-5: (part of the day, clock time) outside its window."""
    return [
        (period, at) for period, at in sorted(times)
        if period in WINDOWS and not f"{WINDOWS[period][0]:02}:00" <= at <= f"{WINDOWS[period][1]:02}:00"
    ]


def usual_hours(packet: Packet) -> bool:
    """The patient gets up between 6 and 8 and sleeps from 9:30 PM to 11 PM, so the windows hold."""
    case = packet.path.parent / "case.toml"
    if not case.exists():
        return False
    patient = tomllib.loads(case.read_text(encoding="utf-8"))["patient"]
    return "06:00" <= patient["wakes"] <= "08:00" and "21:30" <= patient["sleeps"] <= "23:00"


def test_parts_of_day_have_usual_hours():
    """UMS-5, see `outside_windows`; those with other hours of their own are asked for them, so theirs count."""
    usual = [packet for packet in packets.packets() if usual_hours(packet)]
    times = {(dose["period"], dose["at"][11:]) for packet in usual for dose in packet["doses"] if not dose["given"]}
    assert {period for period, _ in times} >= set(WINDOWS), "no packet has all parts of the day"
    assert outside_windows(times) == []


def test_names_are_those_of_the_bottle(aftercare: Document):
    """USP-9: in whatever language, each drug stands under its English generic name and strength, so that a helper who
    reads only the bottle finds it."""
    for drug in aftercare.packet["dosages"]:
        row = formulary.drugs()[drug["drug"]]
        assert drug["name"].startswith(row["name"]) and drug["name"].endswith(row["strength"])
        assert sum(row["name"] in text and row["strength"] in text for text in courses(aftercare)) == 1


# The checks of the checks.


def test_faults_are_noticed():
    """Not vacuous: a name too late, an amount beside a time, a time too few, an hour outside its window."""
    sound = ["a 1%: 1 drop each time, until Friday. When: morning and bedtime."]
    assert disordered(sound, ["a 1%"]) == [] and mixed(sound) == []
    assert disordered(["Bottle of 5 mL, a 1%: 1 drop."], ["a 1%"]) and disordered(["a 1%: 5 mL. 1 drop."], ["a 1%"])
    assert mixed(["a 1%: 1 drop in the morning."]) and mixed(["a 1%. When: 1 drop morning."])
    assert listed("on waking, 10:00 AM, and bedtime") == ["on waking", "10:00 AM", "bedtime"]
    assert uncounted({"a": ["morning and bedtime"]}, {("a", 1): 2}) == []
    assert uncounted({"a": ["morning"]}, {("a", 1): 2})
    assert outside_windows({("morning", "08:15")}) and not outside_windows({("morning", "08:00"), ("other", "03:00")})


def test_wrong_data_is_noticed(sound_aftercare):
    """Not vacuous: two drops at a time, an amount in the timing, a time left out of the text."""
    dosages = [one for drug in sound_aftercare.packet["dosages"] for one in drug["dosages"]]
    dosage = next(one for one in dosages if " and " in one["text"])
    assert not mixed_data(dosage) and not miscounted(dosage)
    assert mixed_data(dosage | {"doseAndRate": []})
    assert mixed_data(dosage | {"doseAndRate": [{"doseQuantity": {"value": 2}}]})
    assert mixed_data(dosage | {"timing": dosage["timing"] | {"code": {"text": "1 drop in the morning"}}})
    assert miscounted(dosage | {"text": dosage["text"].replace(" and ", " ")})


@pytest.mark.parametrize("runs", [[("7:00", 12), ("morning", 12)], [("morning", 12), ("7:00", 14)]])
def test_clock_before_part_is_noticed(runs):
    """Not vacuous: the clock time above the part of the day, or larger than it."""
    assert hidden_periods([runs]) and not hidden_periods([[("morning", 12), ("7:00 AM", 12)]])


def test_boxes_without_words_are_noticed(sound_aftercare):
    """Not vacuous: a part of the day that is gone, an amount beside a box."""
    doses = printed_calendar.read(sound_aftercare.path)
    assert nameless([dataclasses.replace(dose, head="", note="") for dose in doses], sound_aftercare.packet)
    assert amounts_beside_boxes([dataclasses.replace(doses[0], note="2 drops")])
