"""Visits fall on the days that numpy's business-day calendar gives for the practice's hours and closed days."""

import datetime
import tomllib

import numpy
import pytest

import packets
from packets import Missing, Packet

WEEK = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


def profile() -> dict:
    """The practice of the demo."""
    path = packets.root() / "practice" / "profile.toml"
    if not path.exists():
        raise Missing("practice/profile.toml is missing beside the demo packets")
    return tomllib.loads(path.read_text(encoding="utf-8"))


def open_day(day: datetime.date, practice: dict) -> datetime.date:
    """The day itself, or the next on which the practice is open (numpy.busday_offset, roll forward)."""
    mask = "".join("1" if name in practice["hours"] else "0" for name in WEEK)
    offset = numpy.busday_offset(day, 0, roll="forward", weekmask=mask, holidays=practice["closed_days"])
    return offset.astype(datetime.date)


def treated(packet) -> datetime.date:
    return datetime.date.fromisoformat(packet["treatment"][:10])


def wrong(packet, practice: dict) -> list[str]:
    """A visit that is booked lies on an open day after the treatment; each other one on the day its rule gives."""
    found = []
    rules = {rule["id"]: rule["after_days"] for rule in practice["visits"]}
    for visit in packet["visits"]:
        date = datetime.date.fromisoformat(visit["date"])
        wanted = open_day(treated(packet) + datetime.timedelta(days=rules[visit["ids"][0]]), practice)
        if date != (open_day(date, practice) if visit["booked"] else wanted):
            found.append(f"{visit['ids']} on {date}, not on {wanted}")
        if date <= treated(packet):
            found.append(f"{visit['ids']} is not after the treatment")
    return found


def test_visits_are_on_open_days(packet: Packet):
    """The next open day after the interval, see `wrong`."""
    assert packet["visits"] and wrong(packet, profile()) == []


def test_recheck_is_on_the_day_of_the_treatment(packet: Packet):
    """Rises show within hours (Ophthalmology 1985;92:973): the recheck keeps its date."""
    if packet["recheck"]:
        assert packet["recheck"]["at"][:10] == treated(packet).isoformat()


@pytest.mark.parametrize("days", [-1, 1, 7])
def test_shifted_visits_are_noticed(days):
    """Not vacuous: Friday 7 August 2026 and a week are Friday 14 August; another day, or a closed one, is wrong."""
    practice = profile()
    moved = datetime.date(2026, 8, 14) + datetime.timedelta(days=days)
    visit = {"ids": ["week"], "date": "2026-08-14", "booked": False}
    packet = {"treatment": "2026-08-07T10:40", "visits": [visit]}
    assert wrong(packet, practice) == []
    assert wrong(packet | {"visits": [visit | {"date": moved.isoformat()}]}, practice) != []
    saturday = visit | {"date": "2026-08-15", "booked": True}
    assert wrong(packet | {"visits": [saturday]}, practice) != []
