"""Long dates against CLDR (PyPI `Babel`) and instants against the IANA zones of Python's `zoneinfo`."""

import datetime
from zoneinfo import ZoneInfo

import pytest
from babel.dates import format_date

import packets

UTC = datetime.UTC


def long_date(date: datetime.date) -> str:
    """TIME-2: CLDR full date of en-US, for example Friday, August 7, 2026."""
    return format_date(date, format="full", locale="en_US")


def wrong_dates(rows):
    """DATE-3, DATE-4, TIME-2: every written date against CLDR, but for the space that keeps day and month on one line."""
    return [
        f"{row['date']} is {long_date(datetime.date.fromisoformat(row['date']))!r}, not {row['long']!r}"
        for row in rows
        if row["long"].replace("\u00a0", " ") != long_date(datetime.date.fromisoformat(row["date"]))
    ]


def gaps(rows):
    """DATE-4: every day of at least 4 years, in order, the leap day among them."""
    dates = [datetime.date.fromisoformat(row["date"]) for row in rows]
    found = [f"{a} is followed by {b}" for a, b in zip(dates, dates[1:]) if b - a != datetime.timedelta(days=1)]
    if len(dates) < 1461 or not any((d.month, d.day) == (2, 29) for d in dates):
        found.append("not 4 whole years with a leap day")
    return found


@pytest.mark.parametrize("check", [wrong_dates, gaps], ids=lambda check: check.__name__)
def test_every_day(check):
    """Each function above names its rule."""
    assert check(packets.table("dates.json")) == []


GOLDEN = [
    ("2026-08-07", "Friday, August 7, 2026"),
    ("2026-08-13", "Thursday, August 13, 2026"),
    ("2026-08-14", "Friday, August 14, 2026"),
    ("2026-09-03", "Thursday, September 3, 2026"),
    ("2028-02-29", "Tuesday, February 29, 2028"),
]


@pytest.mark.parametrize(("date", "expected"), GOLDEN)
def test_golden_dates(date, expected):
    """Dates worked out by calendar beforehand; they test the yardstick and, through `test_every_day`, the program."""
    assert long_date(datetime.date.fromisoformat(date)) == expected


def test_golden_steps():
    """Day 7 of a course from August 7 is August 13; 28 days end on September 3; February has 28 and 29 days."""
    start, day = datetime.date(2026, 8, 7), datetime.timedelta(days=1)
    assert start + 6 * day == datetime.date(2026, 8, 13) and start + 27 * day == datetime.date(2026, 9, 3)
    assert datetime.date(2027, 2, 28) + day == datetime.date(2027, 3, 1)
    assert datetime.date(2028, 2, 28) + day == datetime.date(2028, 2, 29)


def instant(zone: str, local: datetime.datetime) -> datetime.datetime:
    """The instant of a wall time: the earlier of two, and for a time that is skipped the moment of the skip."""
    first = local.replace(tzinfo=ZoneInfo(zone), fold=0)
    instant = first.astimezone(UTC)
    if instant.astimezone(ZoneInfo(zone)).replace(tzinfo=None) == local:
        return instant
    low, high = instant - datetime.timedelta(days=1), instant
    before = low.astimezone(ZoneInfo(zone)).utcoffset()
    while high - low > datetime.timedelta(seconds=1):
        middle = low + (high - low) / 2
        if middle.astimezone(ZoneInfo(zone)).utcoffset() == before:
            low = middle
        else:
            high = middle
    return (high + datetime.timedelta(milliseconds=500)).replace(microsecond=0)


def _parse(utc: str) -> datetime.datetime:
    return datetime.datetime.fromisoformat(utc.replace("Z", "+00:00"))


def wrong_instants(rows):
    """TIME-5: every instant the program computed, against the IANA zones."""
    expected = [instant(row["zone"], datetime.datetime.fromisoformat(row["local"])) for row in rows]
    return [
        f"{row['local']} in {row['zone']} is {right}, not {row['utc']}"
        for row, right in zip(rows, expected)
        if right != _parse(row["utc"])
    ]


def test_instants():
    """See `wrong_instants`."""
    assert wrong_instants(packets.table("zones.json")) == []


VECTORS = [
    ("America/New_York", "2026-03-07T08:00", "2026-03-07T13:00Z"),
    ("America/New_York", "2026-03-08T08:00", "2026-03-08T12:00Z"),
    ("America/New_York", "2026-10-31T08:00", "2026-10-31T12:00Z"),
    ("America/New_York", "2026-11-01T08:00", "2026-11-01T13:00Z"),
    ("America/New_York", "2027-03-14T08:00", "2027-03-14T12:00Z"),
    ("America/New_York", "2027-11-07T08:00", "2027-11-07T13:00Z"),
    ("Europe/Berlin", "2026-03-28T08:00", "2026-03-28T07:00Z"),
    ("Europe/Berlin", "2026-03-29T08:00", "2026-03-29T06:00Z"),
    ("Europe/Berlin", "2026-10-25T08:00", "2026-10-25T07:00Z"),
    ("Europe/Berlin", "2027-03-28T08:00", "2027-03-28T06:00Z"),
    ("Europe/London", "2026-03-28T08:00", "2026-03-28T08:00Z"),
    ("Europe/London", "2026-03-29T08:00", "2026-03-29T07:00Z"),
    ("America/New_York", "2026-03-08T02:30", "2026-03-08T07:00Z"),
    ("Europe/Berlin", "2026-03-29T02:30", "2026-03-29T01:00Z"),
    ("America/New_York", "2026-11-01T01:30", "2026-11-01T05:30Z"),
    ("Europe/Berlin", "2026-10-25T02:30", "2026-10-25T00:30Z"),
]


@pytest.mark.parametrize(("zone", "local", "utc"), VECTORS)
def test_clock_changes(zone, local, utc):
    """Clock changes of 2026 and 2027 worked out beforehand: skipped hours move on, doubled hours take the first."""
    assert instant(zone, datetime.datetime.fromisoformat(local)) == _parse(utc)


def test_clock_changes_are_among_the_instants():
    """The program was asked about a skipped and a doubled hour, not only about easy days."""
    asked = {(row["zone"], row["local"][:10]) for row in packets.table("zones.json")}
    for zone, day in (("America/New_York", "2026-03-08"), ("America/New_York", "2026-11-01"), ("Europe/Berlin", "2026-03-29")):
        assert (zone, day) in asked


def test_faults_are_noticed():
    """Not vacuous: a wrong weekday, a lost day, an hour too much."""
    assert wrong_dates([{"date": "2026-08-07", "long": "Thursday, August 7, 2026"}])
    assert gaps([{"date": "2026-08-07"}, {"date": "2026-08-09"}])
    assert wrong_instants([{"zone": "Europe/Berlin", "local": "2026-03-29T08:00", "utc": "2026-03-29T07:00Z"}])
