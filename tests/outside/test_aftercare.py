"""Eye-drop practice on the aftercare page: one drop, apart from each other, how, how long, and what if it goes wrong.

Evidence on technique: Tatham et al., Eye 2013;27:1293; spacing: Chrai et al., J Pharm Sci 1974;63:333; closing the eye:
Zimmerman et al., Arch Ophthalmol 1984;102:551.
"""

import datetime
import itertools
import re

import pytest

import tags
import wording
from packets import Document, Packet
from test_dates import long_date

STEPS = {
    "wash the hands": [r"wash (your|the) hands"],
    "check bottle and eye": [r"check .*(label|name|bottle)"],
    "open": [r"(take|pull|twist|screw) off the cap|remove the cap|open the bottle"],
    "tilt the head": [r"(tilt|lean) (your|the) head|lie down"],
    "lower lid": [r"lower lid"],
    "do not touch": [r"(not|never|without) touch"],
    "squeeze": [r"squeeze"],
    "close the eye": [r"close (your|the) eye"],
    "press the corner": [r"(press|push) .*(corner|nose)"],
    "wipe": [r"\b(wipe|dab)\b"],
    "put the cap back": [r"cap back|close the bottle|replace the cap"],
}
PROBLEMS = {
    "DROP-8 missed dose": [r"(forgot|forget|missed).{0,40}(drop|dose)"],
    "DROP-8 no double dose": [r"(not|never).{0,30}(double|extra|more) (drops?|dose|the)|not .*catch up"],
    "DROP-8 missed the eye": [r"miss(ed)? (your|the) eye|no drop went in|did not (go|land) in"],
    "DROP-10 contact lenses": [r"contact lens"],
    "DROP-10 driving": [r"driv(e|ing)"],
}
DISCARD = {"DROP-5 throw away": [r"(throw|discard|get rid).{0,60}(bottle|drops|away|rest)"]}


def planned(packet: Packet) -> bool:
    return any(not dose["given"] for dose in packet["doses"])


def drugs(packet: Packet) -> set[str]:
    return {dose["drug"] for dose in packet["doses"]}


def close_together(doses: list[dict], least: int):
    """DROP-2: two drops into one eye at least so many minutes apart."""
    zone = datetime.UTC
    times = sorted((datetime.datetime.fromisoformat(d["utc"].replace("Z", "+00:00")).astimezone(zone), d["drug"]) for d in doses)
    return [
        f"{a[1]} and {b[1]} at {b[0]:%Y-%m-%d %H:%M} are {int((b[0] - a[0]).total_seconds() // 60)} minutes apart"
        for a, b in itertools.pairwise(times)
        if (b[0] - a[0]).total_seconds() < least * 60
    ]


def step_texts(document: Document) -> list[str]:
    """The items of numbered lists, in order."""
    found, number = [], False
    for block in tags.reading(document.path).blocks():
        if block.kind == "Lbl":
            number = bool(re.fullmatch(r"\d+[.)]", block.text))
        elif number and (block.kind == "LBody" or block.element.inside("LBody")):
            found.append(block.text)
        else:
            number = False
    return found


def wrong_steps(steps: list[str]):
    """DROP-3: all steps in a numbered list, hands first, the eye closed after the drop."""
    text = " ".join(steps)
    found = [f"no step: {name}" for name in wording.missing(text, STEPS)]
    if not found:
        backbone = ("wash the hands", "lower lid", "squeeze", "close the eye")
        order = [next(i for i, step in enumerate(steps) if re.search(STEPS[name][0], step, re.I)) for name in backbone]
        found += [] if order == sorted(order) and order[0] == 0 else [f"the steps are out of order: {order}"]
    return found


def test_one_drop(aftercare: Document):
    """DROP-1: a dose is 1 drop."""
    if planned(aftercare.packet):
        text = wording.text(aftercare)
        assert re.search(r"\b1 drop\b", text) and not re.search(r"\b([2-9]|1\d) drops (in|into|each)\b", text)


def test_apart_on_paper(aftercare: Document):
    """DROP-2: with 2 drugs or more the page says how many minutes to wait between them."""
    if len(drugs(aftercare.packet)) > 1:
        said = re.findall(r"[Ww]ait (?:at least )?(\d+) minutes", wording.text(aftercare))
        assert said and all(int(minutes) >= 5 for minutes in said)


def test_apart_in_the_plan(packet: Packet):
    """DROP-2, see `close_together`: at least 5 minutes between any two doses still to be taken."""
    assert close_together([dose for dose in packet["doses"] if not dose["given"]], 5) == []


def test_steps(aftercare: Document):
    """DROP-3, see `wrong_steps`."""
    if planned(aftercare.packet):
        assert wrong_steps(step_texts(aftercare)) == []


def test_one_closing_time(aftercare: Document):
    """DROP-4: how long to close the eye, the same in all places."""
    if planned(aftercare.packet):
        said = set(re.findall(r"(?:corner|closed?)\b[^.]*?\bfor (\d+ (?:minutes?|seconds?))", wording.text(aftercare), re.I))
        assert len(said) == 1


def test_problems(aftercare: Document):
    """DROP-8, DROP-10."""
    if planned(aftercare.packet):
        lenses = aftercare.packet.fact("contact_lenses") != "no"
        wanted = {name: words for name, words in PROBLEMS.items() if lenses or "contact lenses" not in name}
        assert wording.missing(wording.text(aftercare), wanted) == []


def test_bottle_is_thrown_away(aftercare: Document):
    """DROP-5 (EMA CPMP/QWP/159/96: in-use limit of opened drops): the page says when the bottle goes."""
    if planned(aftercare.packet):
        assert wording.missing(wording.text(aftercare), DISCARD) == []


def evening(dose: dict) -> datetime.date:
    """The date of a dose; one before sleep after midnight belongs to the day before, as its row of the calendar says."""
    at = datetime.datetime.fromisoformat(dose["at"])
    late = dose["period"] == "before_sleep" and at.hour < 6
    return at.date() - datetime.timedelta(days=late)


def test_stop_dates(aftercare: Document):
    """UMS-4: each drug with its last date, weekday and year, and that it then stops."""
    last: dict[str, str] = {}
    for dose in aftercare.packet["doses"]:
        last[dose["name"]] = max(last.get(dose["name"], ""), evening(dose).isoformat())
    words = [block.text for block in wording.blocks(aftercare)]
    for name, date in last.items():
        day = long_date(datetime.date.fromisoformat(date))
        saying = [text for text in words if name.lower() in text.lower() and day in text and re.search(r"\bstop\b", text)]
        assert saying, f"the page does not say that {name} stops on {day}"


SIGNS = {
    "floaters": [r"floaters"], "flashes": [r"flash"], "shadow": [r"curtain|shadow"],
    "sight": [r"(loss|lose|blur|drop|worse).{0,20}(sight|vision)|(sight|vision).{0,20}(loss|lost|worse|blur)"],
    "pain": [r"pain"], "redness": [r"red"],
}


def test_warning_signs_come_first(aftercare: Document):
    """CCI-2: the signs and a phone number stand on page 1; in large print on the first two pages."""
    reading = tags.reading(aftercare.path)
    pages = 2 if aftercare.packet["print"] == "large" else 1
    first = " ".join(block.text for block in reading.blocks() if block.page < pages)
    assert wording.missing(first, SIGNS) == []
    assert re.search(r"\(\d{3}\) \d{3}-\d{4}|\d{3}-\d{4}", first), "no phone number on page 1"


def test_faults_are_noticed():
    """Not vacuous: doses too close, steps left out or in the wrong order."""
    doses = [{"drug": "a", "utc": "2026-08-07T12:00:00Z"}, {"drug": "b", "utc": "2026-08-07T12:04:00Z"}]
    assert close_together(doses, 5) and not close_together(doses, 4)
    steps = [
        "Wash your hands.", "Check the name on the bottle.", "Take off the cap.", "Tilt your head back.", "Pull your lower lid.",
        "Do not touch the eye. Squeeze.", "Close your eye. Press the inner corner.", "Wipe.", "Put the cap back on.",
    ]
    assert wrong_steps(steps) == []
    assert wrong_steps(steps[1:]) and wrong_steps(steps[::-1]) and wrong_steps([*steps[:6], *steps[7:]])


@pytest.mark.parametrize("concepts", [STEPS, PROBLEMS, DISCARD, SIGNS])
def test_concepts_can_be_missing(concepts):
    """Not vacuous: an empty text lacks every concept."""
    assert wording.missing("", concepts) == list(concepts)
