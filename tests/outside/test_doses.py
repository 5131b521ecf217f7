"""The doses three times over: on paper, in packet.json, in the calendar file; one by one and drug by drug.

The paper is read from lines, boxes and words (see `printed_calendar`), the calendar file with public libraries, and
instants are computed with Python's own copy of the IANA time zones.
"""

import collections
import dataclasses
import datetime
import re
from zoneinfo import ZoneInfo

import pytest

import ics
import printed_calendar
import tags
from packets import Document, Packet
from test_dates import long_date

LOCAL = "%Y-%m-%dT%H:%M"
UTC = datetime.UTC


def _letters(text: str) -> str:
    return re.sub(r"[^a-z0-9.%]+", " ", text.lower()).strip()


def named(text: str, names) -> str | None:
    """The drug that a text names: the longest name that it holds."""
    inside = [name for name in names if f" {_letters(name)} " in f" {_letters(text)} "]
    return max(inside, key=len, default=None)


def local(text: str) -> datetime.datetime:
    return datetime.datetime.strptime(text, LOCAL)


def packet_doses(packet) -> collections.Counter:
    """(name, local time, given) of each dose of the packet."""
    return collections.Counter((dose["name"], local(dose["at"]), dose["given"]) for dose in packet["doses"])


def paper_doses(doses: list[printed_calendar.Dose], names) -> collections.Counter:
    """The same from paper. A ticked box is a dose that was given."""
    found = collections.Counter()
    for dose in doses:
        name = named(dose.drug, names)
        if name is None:
            raise printed_calendar.Unclear(f"page {dose.page}: a box under {dose.drug!r}, which names no drug of the packet")
        found[name, dose.at, dose.ticked] += 1
    return found


def differences(first: collections.Counter, second: collections.Counter, where: tuple[str, str]):
    """What only one of the two knows, in words."""
    return [
        f"only {place}: {' '.join(str(part) for part in key)} ({count} times)"
        for place, surplus in ((where[0], first - second), (where[1], second - first))
        for key, count in sorted(surplus.items(), key=str)
    ]


COURSE = re.compile(r"dose-(\d+)-")


def file_courses(events: list[ics.Occurrence]) -> dict[str, collections.Counter]:
    """Local time and instant of each dose in the calendar file, by the number of its drug in the identifier.

    Titles name no drug, so a drug is known by its number alone.
    """
    found: dict[str, collections.Counter] = collections.defaultdict(collections.Counter)
    for event in events:
        course = COURSE.match(event.uid)
        if course:
            found[course[1]][event.local, event.start.astimezone(UTC)] += 1
    return found


def packet_courses(packet) -> dict[str, collections.Counter]:
    """The same from the packet, by name of the drug: doses still to be taken."""
    found: dict[str, collections.Counter] = collections.defaultdict(collections.Counter)
    for dose in packet["doses"]:
        if not dose["given"]:
            found[dose["name"]][local(dose["at"]), parse_utc(dose["utc"])] += 1
    return found


def unmatched_courses(in_file: dict[str, collections.Counter], wanted: dict[str, collections.Counter]):
    """Each number in the file stands for exactly one drug of the packet: all its doses and no other's."""
    found, free = [], dict(in_file)
    for name, doses in wanted.items():
        number = next((number for number, events in free.items() if events == doses), None)
        if number is not None:
            del free[number]
            continue
        closest = min(free.values(), key=lambda e: (e - doses + (doses - e)).total(), default=collections.Counter())
        lost = differences(closest, doses, ("in the calendar file", "in packet.json"))
        found.append(f"{name}: {len(lost)} doses differ, first {lost[:2]}")
    return found + [f"drug number {number} of the calendar file is none of the packet" for number in free if not found]


def file_visits(events: list[ics.Occurrence]) -> collections.Counter:
    """(date, clock time or nothing) of every other event."""
    return collections.Counter((e.date, e.local and e.local.time()) for e in events if not COURSE.match(e.uid))


def packet_visits(packet) -> collections.Counter:
    found = collections.Counter()
    for visit in packet["visits"]:
        at = visit["at"] and datetime.time.fromisoformat(visit["at"])
        found[datetime.date.fromisoformat(visit["date"]), at] += 1
    if packet["recheck"]:
        at = local(packet["recheck"]["at"])
        found[at.date(), at.time()] += 1
    return found


def parse_utc(text: str) -> datetime.datetime:
    return datetime.datetime.fromisoformat(text.replace("Z", "+00:00"))


def instants(packet):
    """TIME-5 (IANA zones): the wall time in the zone is the UTC time given; of two instants the earlier one."""
    zone, found = ZoneInfo(packet["zone"]), []
    for dose in packet["doses"]:
        expected = local(dose["at"]).replace(tzinfo=zone, fold=0).astimezone(UTC)
        if parse_utc(dose["utc"]) != expected:
            found.append(f"{dose['at']} in {packet['zone']} is {expected:%H:%M} UTC, not {dose['utc']}")
    return found


def test_paper_equals_packet(aftercare: Document):
    """ICS-10, DROP-14: as many boxes as doses, each at its date and time, under its drug, ticked if given in the clinic."""
    packet = aftercare.packet
    paper = paper_doses(printed_calendar.read(aftercare.path), {dose["name"] for dose in packet["doses"]})
    # Those of a calendar for both eyes are compared in test_both_eyes.
    wanted = collections.Counter() if packet["both_eyes"] else packet_doses(packet)
    assert differences(paper, wanted, ("on paper", "in packet.json")) == []


def test_file_equals_packet(calendar):
    """ICS-10, ICS-5, ICS-7, TIME-5: one event for each dose still to be taken, at its wall time and its instant, drug by drug."""
    packet, path = calendar
    wanted = {} if packet["both_eyes"] else packet_courses(packet)
    assert unmatched_courses(file_courses(ics.read(path)), wanted) == []


def test_visits_equal(calendar):
    """ICS-10 for visits and the pressure recheck: date, and clock time where one is set."""
    packet, path = calendar
    found, wanted = file_visits(ics.read(path)), packet_visits(packet)
    assert differences(found, wanted, ("in the calendar file", "in packet.json")) == []


def test_conditional_visits_are_tentative(calendar):
    """RFC 5545, 3.8.1.11: a visit that is only needed if the pressure was raised is TENTATIVE."""
    packet, path = calendar
    conditional = {datetime.date.fromisoformat(v["date"]) for v in packet["visits"] if v["if_raised"]}
    fixed = {datetime.date.fromisoformat(v["date"]) for v in packet["visits"] if not v["if_raised"]}
    for event in ics.read(path):
        if not COURSE.match(event.uid) and event.date in conditional - fixed:
            assert event.tentative


def test_every_aftercare_has_its_file(aftercare: Document):
    """Doses or visits to keep: the calendar file lies beside the pages."""
    packet = aftercare.packet
    if any(not dose["given"] for dose in packet["doses"]) or packet["visits"]:
        assert packet.file("calendar.ics").is_file()


def unprinted_visits(packet, text: str):
    """ASC-5: each visit with weekday and date on the page, with its time if it has one; the recheck with its time."""
    wanted = [(datetime.date.fromisoformat(v["date"]), v["at"]) for v in packet["visits"]]
    if packet["recheck"]:
        day, at = packet["recheck"]["at"].split("T")
        wanted.append((datetime.date.fromisoformat(day), at))
    found = []
    for date, at in wanted:
        words = long_date(date)
        places = [match.end() for match in re.finditer(re.escape(words), text)]
        if not places:
            found.append(f"{words} is not printed")
        elif at and not any(_says(text[place : place + 80], at) for place in places):
            found.append(f"{words} is printed without {at}")
    return found


def _says(text: str, at: str) -> bool:
    wanted = datetime.time.fromisoformat(at)
    for match in printed_calendar.CLOCK.finditer(text):
        try:
            if printed_calendar.clock(match[0]) == wanted:
                return True
        except printed_calendar.Unclear:
            continue
    return False


def test_visits_are_printed(aftercare: Document):
    """ASC-5 (42 CFR 416.52(c)(1)), see `unprinted_visits`."""
    text = " ".join(block.text for block in tags.reading(aftercare.path).blocks())
    assert unprinted_visits(aftercare.packet, text) == []


def test_instants(packet: Packet):
    """TIME-5, see `instants`."""
    assert instants(packet) == []


def test_periods(packet: Packet):
    """USP-4, UMS-1 (USP <17>, Universal Medication Schedule): up to 4 doses a day carry the word for their time."""
    order = ["morning", "noon", "evening", "bedtime"]
    days = collections.defaultdict(list)
    for dose in packet["doses"]:
        days[dose["drug"], dose["at"][:10]].append((dose["at"], dose["period"]))
    for doses in days.values():
        periods = [period for _, period in sorted(doses) if period in order]
        assert periods == sorted(periods, key=order.index), f"{sorted(doses)} are out of order"
        assert len(set(periods)) == len(periods), f"{sorted(doses)} name a time of day twice"


# The checks of the checks: a copy of real data is changed in one point.


@pytest.fixture
def course(sound_aftercare) -> tuple[list[printed_calendar.Dose], Packet]:
    return printed_calendar.read(sound_aftercare.path), sound_aftercare.packet


def _paper_problems(doses, packet):
    return differences(paper_doses(doses, {d["name"] for d in packet["doses"]}), packet_doses(packet), ("paper", "packet"))


def test_lost_and_moved_doses_are_noticed(course):
    """Not vacuous: a lost box, a doubled one, another time, another day, another tick."""
    doses, packet = course
    assert doses and _paper_problems(doses, packet) == []
    first, minute = doses[0], datetime.timedelta(minutes=1)
    for change in (
        doses[1:],
        [first, *doses],
        [dataclasses.replace(first, at=first.at + minute), *doses[1:]],
        [dataclasses.replace(first, at=first.at + datetime.timedelta(days=1)), *doses[1:]],
        [dataclasses.replace(first, ticked=not first.ticked), *doses[1:]],
    ):
        assert _paper_problems(change, packet) != []
    with pytest.raises(printed_calendar.Unclear):
        _paper_problems([dataclasses.replace(first, drug="something else"), *doses[1:]], packet)


def test_shifted_instant_is_noticed(course):
    """Not vacuous: an hour of summer time too much."""
    _, packet = course
    dose = dict(packet["doses"][0])
    late = parse_utc(dose["utc"]) + datetime.timedelta(hours=1)
    assert instants({"zone": packet["zone"], "doses": [dose | {"utc": late.isoformat()}]}) != []


def test_confused_courses_are_noticed(course):
    """Not vacuous: an event lost, an event moved from one drug to another, a drug too many."""
    _, packet = course
    wanted = packet_courses(packet)
    sound = {str(number): collections.Counter(doses) for number, doses in enumerate(wanted.values(), 1)}
    assert sound and unmatched_courses(sound, wanted) == []
    first = next(iter(sound))
    event = next(iter(sound[first]))
    less = sound | {first: sound[first] - collections.Counter([event])}
    assert unmatched_courses(less, wanted) and unmatched_courses(less | {"9": collections.Counter([event])}, wanted)
    assert unmatched_courses(sound | {"9": collections.Counter([event])}, wanted)
    assert unmatched_courses({}, wanted)


def test_shifted_visit_is_noticed():
    """Not vacuous: another date, no time, another time."""
    packet = {"visits": [{"date": "2026-08-14", "at": "09:30", "if_raised": False}], "recheck": None}
    assert unprinted_visits(packet, "Friday, August 14, 2026 at 9:30 AM") == []
    for text in ("Friday, August 21, 2026 at 9:30 AM", "Friday, August 14, 2026", "Friday, August 14, 2026 at 9:30 PM"):
        assert unprinted_visits(packet, text) != []


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("7:00 AM", "07:00"), ("12:00 PM", "12:00"), ("12:15 AM", "00:15"),
        ("12:00 noon", "12:00"), ("Noon", "12:00"), ("10:45\u202fPM", "22:45"),
    ],
)
def test_clock_is_read(text, expected):
    """The reader of the paper knows the twelve-hour clock."""
    assert printed_calendar.clock(tags.plain(text)) == datetime.time.fromisoformat(expected)


def test_unclear_paper_is_refused():
    """Fail closed: a time without its half of the day, a weekday that fits no year."""
    with pytest.raises(printed_calendar.Unclear):
        printed_calendar.clock("7:00")
    with pytest.raises(printed_calendar.Unclear):
        printed_calendar.dated("Monday", "August", 7, [2026])
    assert printed_calendar.dated("Friday", "January", 1, [2026, 2027]) == datetime.date(2027, 1, 1)
