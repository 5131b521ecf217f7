"""A calendar file read by PyPI `icalendar` and expanded by `recurring-ical-events`."""

import datetime
import re
from dataclasses import dataclass
from pathlib import Path

import icalendar
import recurring_ical_events

EVER = datetime.datetime(2000, 1, 1), datetime.datetime(2100, 1, 1)


@dataclass(frozen=True)
class Occurrence:
    """One event as a phone shows it."""

    uid: str
    start: datetime.date
    """A date for a whole day, else a local time with its zone."""
    words: str
    """Title and details."""
    tentative: bool

    @property
    def local(self) -> datetime.datetime | None:
        return self.start.replace(tzinfo=None) if isinstance(self.start, datetime.datetime) else None

    @property
    def date(self) -> datetime.date:
        return self.start.date() if isinstance(self.start, datetime.datetime) else self.start


def parse(raw: bytes) -> icalendar.Calendar:
    return icalendar.Calendar.from_ical(raw)


def occurrences(raw: bytes) -> list[Occurrence]:
    found = [
        Occurrence(
            str(event["UID"]),
            event.decoded("DTSTART"),
            " ".join(str(event.get(key, "")) for key in ("SUMMARY", "DESCRIPTION", "LOCATION")),
            str(event.get("STATUS", "")) == "TENTATIVE",
        )
        for event in recurring_ical_events.of(parse(raw)).between(*EVER)
    ]
    return sorted(found, key=lambda one: (str(one.start), one.uid))


def lines(raw: bytes) -> list[str]:
    """Unfolded content lines (RFC 5545, 3.1)."""
    return re.sub(rb"\r\n[ \t]", b"", raw).decode("utf-8").split("\r\n")[:-1]


def read(path: Path) -> list[Occurrence]:
    return occurrences(path.read_bytes())
