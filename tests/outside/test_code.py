"""The code of visits as a phone's camera sees it: read from the printed page by a decoder of its own, then as a calendar."""

import datetime
import subprocess
from zoneinfo import ZoneInfo

import icalendar
import numpy
import zxingcpp

import formulary
import seal
from packets import Document
from test_visits import profile


def pictures(document: Document, dpi: int = 200) -> list[numpy.ndarray]:
    """Each page in grey, as a copier or a camera gets it."""
    data = subprocess.run(["pdftoppm", "-gray", "-r", str(dpi), document.path], capture_output=True, check=True).stdout
    found = []
    while data:
        kind, width, height, most = data.split(maxsplit=4)[:4]
        assert kind == b"P5" and most == b"255"
        start = len(b"\n".join([kind, width + b" " + height, most])) + 1
        size = int(width) * int(height)
        found.append(numpy.frombuffer(data[start:start + size], numpy.uint8).reshape(int(height), int(width)))
        data = data[start + size:]
    return found


def every(document: Document) -> list[list[str]]:
    """The codes of each page."""
    return [[code.text for code in zxingcpp.read_barcodes(page)] for page in pictures(document)]


def codes(document: Document) -> list[str]:
    """The codes but that of the seal, which `test_seal` reads."""
    return [code for page in every(document) for code in page if not seal.CODE.fullmatch(code)]


def starts(text: str) -> list:
    """Date, or instant in UTC, of each event."""
    events = icalendar.Calendar.from_ical(text).walk("VEVENT")
    return sorted((event["DTSTART"].dt for event in events), key=str)


def wanted(packet) -> list:
    """Date, or instant in UTC, of each visit of the plan."""
    zone = ZoneInfo(profile()["practice"]["time_zone"])
    found = []
    for visit in packet["visits"]:
        date = datetime.date.fromisoformat(visit["date"])
        at = visit["at"] and datetime.datetime.combine(date, datetime.time.fromisoformat(visit["at"]), zone)
        found.append(at.astimezone(datetime.UTC) if at else date)
    return sorted(found, key=str)


def test_code_holds_the_visits(aftercare: Document):
    """One code with each visit at its date and time, where the practice wants it; RFC 5545 text that a library reads."""
    found = codes(aftercare)
    if not profile()["practice"].get("visits_code") or not aftercare.packet["visits"]:
        assert found == []
        return
    assert len(found) == 1
    assert starts(found[0]) == wanted(aftercare.packet)
    assert all(len(line.encode()) <= 75 for line in found[0].split("\r\n"))


def test_code_tells_nobody_who(aftercare: Document):
    """No name, number or drug, and no address that a phone would open."""
    patient = aftercare.packet["patient"]
    private = [*patient["name"].split(), patient["record_number"], patient["birth_date"], "://", "www."]
    private += [row["name"] for row in formulary.drugs().values()]
    assert [word for page in every(aftercare) for text in page for word in private if word.lower() in text.lower()] == []


def test_moved_visit_is_noticed():
    """Not vacuous: another date is another start."""
    text = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:x\r\nBEGIN:VEVENT\r\nUID:a\r\nDTSTAMP:20260807T000000Z\r\n{}\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n"
    assert starts(text.format("DTSTART;VALUE=DATE:20260814")) == [datetime.date(2026, 8, 14)]
    assert starts(text.format("DTSTART:20260814T132000Z"))[0].hour == 13
