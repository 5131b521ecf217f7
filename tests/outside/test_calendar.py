"""The calendar file by the letter of RFC 5545, and what a locked screen may show (45 CFR 164.502(b), minimum necessary)."""

import datetime
import re
from zoneinfo import ZoneInfo

import pytest

import ics


def wrapped(raw: bytes):
    """ICS-1 (3.4, 3.6, 3.7): one VCALENDAR, VERSION 2.0 and PRODID once each, at least one event."""
    calendar, lines = ics.parse(raw), ics.lines(raw)
    found = [] if lines[0] == "BEGIN:VCALENDAR" and lines[-1] == "END:VCALENDAR" else ["not wrapped in one VCALENDAR"]
    top = lines[: next((i for i, line in enumerate(lines) if i and line.startswith("BEGIN:")), len(lines))]
    found += [] if top.count("VERSION:2.0") == 1 else ["VERSION:2.0 is not there once"]
    found += [] if sum(line.startswith("PRODID") for line in top) == 1 else ["PRODID is not there once"]
    return found + ([] if calendar.walk("VEVENT") else ["no event"])


def line_ends(raw: bytes):
    """ICS-2 (3.1): every line ends with CRLF, the last one too."""
    bare = re.search(rb"(?<!\r)\n|\r(?!\n)", raw)
    return ["a line end that is not CRLF"] if bare or not raw.endswith(b"\r\n") else []


def folded(raw: bytes):
    """ICS-3 (3.1): no line over 75 octets, no character cut by a fold, no empty line."""
    found = []
    for number, line in enumerate(raw.split(b"\r\n")[:-1], 1):
        if len(line) > 75:
            found.append(f"line {number} has {len(line)} octets")
        if not line.strip():
            found.append(f"line {number} is empty")
        try:
            line.decode("utf-8")
        except UnicodeDecodeError:
            found.append(f"line {number} cuts a character")
    return found


def identified(raw: bytes):
    """ICS-4 (3.8.4.7, 3.8.7.2): each event a UID of its own and a DTSTAMP in UTC."""
    events = ics.parse(raw).walk("VEVENT")
    uids = [str(event.get("UID", "")) for event in events]
    found = [] if len(set(uids)) == len(uids) and all(uids) else ["events without a UID of their own"]
    stamps = [line for line in ics.lines(raw) if line.startswith("DTSTAMP")]
    good = [line for line in stamps if re.fullmatch(r"DTSTAMP:\d{8}T\d{6}Z", line)]
    return found + ([] if len(good) == len(stamps) == len(events) else ["an event without a DTSTAMP in UTC"])


def zones(raw: bytes):
    """ICS-5 (3.2.19, 3.6.5): each TZID has its VTIMEZONE, and its rules give the instants of the IANA database."""
    calendar, found = ics.parse(raw), []
    described = {str(zone["TZID"]): zone for zone in calendar.walk("VTIMEZONE")}
    for event in calendar.walk("VEVENT"):
        start = event["DTSTART"]
        name = start.params.get("TZID")
        if not isinstance(start.dt, datetime.datetime):
            continue
        if name is None:
            found.append("a time without a zone")
        elif name not in described:
            found.append(f"no VTIMEZONE for {name}")
        else:
            local = start.dt.replace(tzinfo=None)
            own = local.replace(tzinfo=described[name].to_tz(lookup_tzid=False)).utcoffset()
            if own != local.replace(tzinfo=ZoneInfo(name)).utcoffset():
                found.append(f"at {local} the rules in the file say {own} from UTC")
    return found


def ends(raw: bytes):
    """ICS-6 (3.6.1): DTEND or DURATION, not both; a day ends with the day after; a time lasts some minutes."""
    found = []
    for event in ics.parse(raw).walk("VEVENT"):
        start = event["DTSTART"].dt
        if ("DTEND" in event) == ("DURATION" in event):
            found.append("an event needs DTEND or DURATION, one of them")
        elif "DTEND" in event and event["DTEND"].dt <= start:
            found.append("an event ends before it starts")
        elif "DURATION" in event and event["DURATION"].dt <= datetime.timedelta(0):
            found.append("an event without length")
        elif not isinstance(start, datetime.datetime) and event["DTEND"].dt - start != datetime.timedelta(days=1):
            found.append("a whole day that does not end with the day after")
    return found


def rules(raw: bytes):
    """ICS-7 (3.3.10): a recurrence has a FREQ, COUNT or UNTIL but not both, and UNTIL in UTC."""
    found = []
    for event in ics.parse(raw).walk("VEVENT"):
        rule = event.get("RRULE")
        if rule is None:
            continue
        if "FREQ" not in rule or ("COUNT" in rule) == ("UNTIL" in rule):
            found.append("a recurrence without FREQ or without one end")
        if "UNTIL" in rule and getattr(rule["UNTIL"][0], "tzinfo", None) is None:
            found.append("a recurrence whose UNTIL is not in UTC")
    return found


def alarms(raw: bytes):
    """ICS-8 (3.6.6): a reminder says DISPLAY, when, and what to show; each event at a time of day has one."""
    found = []
    for event in ics.parse(raw).walk("VEVENT"):
        inside = event.walk("VALARM")
        if isinstance(event["DTSTART"].dt, datetime.datetime) and not inside:
            found.append("a time without a reminder")
        for alarm in inside:
            if str(alarm.get("ACTION")) != "DISPLAY" or "TRIGGER" not in alarm or not alarm.get("DESCRIPTION"):
                found.append("a reminder without DISPLAY, TRIGGER or DESCRIPTION")
            elif alarm["TRIGGER"].dt > datetime.timedelta(0):
                found.append("a reminder after the event")
    return found


TEXT_LINE = re.compile(r"(SUMMARY|DESCRIPTION|LOCATION|COMMENT|UID|PRODID|TZNAME)(?:;[^:]*)?:(.*)", re.S)


def escaped(raw: bytes):
    """ICS-9 (3.3.11): comma, semicolon, backslash and new line in text are escaped, and nothing else is."""
    found = []
    for line in ics.lines(raw):
        text = TEXT_LINE.fullmatch(line)
        if text and not re.fullmatch(r"(?:[^\\,;\x00-\x08\x0a-\x1f\x7f]|\\[\\,;nN])*", text[2]):
            found.append(f"{text[1]} is not escaped")
    return found


TELLING = re.compile(r"laser|floater|vitre|retina|glaucoma|pressure|steroid|lens|implant|cataract|surg|right|left", re.I)
"""Words of a diagnosis, a treatment or a side. "Eye drop" is allowed: without it a reminder says nothing to its owner."""


def private(raw: bytes, names: list[str]):
    """ICS-11, HIP-5: titles and reminders are neutral, every event is PRIVATE. `names` are drugs and people."""
    found = []
    for event in ics.parse(raw).walk("VEVENT"):
        shown = [str(event.get("SUMMARY", "")), *(str(alarm.get("DESCRIPTION", "")) for alarm in event.walk("VALARM"))]
        if not shown[0].strip():
            found.append("an event without a title")
        for words in shown:
            told = [name for name in names if name.lower() in words.lower()]
            if TELLING.search(words) or told:
                found.append(f"a locked screen would show {words!r}")
        if str(event.get("CLASS")) != "PRIVATE":
            found.append("an event that is not PRIVATE")
    return found


def nameless(raw: bytes, patient: dict):
    """HIP-2: neither name nor record number nor birth date in identifiers, nor anywhere else in the file."""
    text = "\n".join(ics.lines(raw)).lower()
    secrets = {patient["record_number"], patient["name"], *(part for part in patient["name"].split() if len(part) > 3)}
    secrets |= {patient["birth_date"], patient["birth_date"].replace("-", "")}
    return [f"the file holds a part of who the patient is ({len(s)} letters)" for s in secrets if s.lower() in text]


CHECKS = [wrapped, line_ends, folded, identified, zones, ends, rules, alarms, escaped]


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.__name__)
def test_rfc_5545(calendar, check):
    """ICS-1, ICS-2, ICS-3, ICS-4, ICS-5, ICS-6, ICS-7, ICS-8, ICS-9: each function above names its rule."""
    _, path = calendar
    assert check(path.read_bytes()) == []


def _people_and_drugs(packet) -> list[str]:
    drugs = [dose[key] for dose in packet["doses"] for key in ("drug", "name")]
    return [*{word for name in drugs for word in re.findall(r"[A-Za-z]{5,}", name)}, packet["patient"]["name"]]


def test_private(calendar):
    """ICS-11 with HIP-5, see `private`."""
    packet, path = calendar
    assert private(path.read_bytes(), _people_and_drugs(packet)) == []


def test_nameless(calendar):
    """HIP-2, see `nameless`."""
    packet, path = calendar
    assert nameless(path.read_bytes(), packet["patient"]) == []


def test_revision(calendar):
    """ICS-4 (3.8.7.4): a reissue replaces the events of the issue before, so SEQUENCE grows with the revision."""
    packet, path = calendar
    sequences = {int(event.get("SEQUENCE", 0)) for event in ics.parse(path.read_bytes()).walk("VEVENT")}
    assert sequences == {packet["revision"] - 1}


def test_zone(calendar):
    """ICS-5: the zone is that of the practice."""
    packet, path = calendar
    named = {e["DTSTART"].params.get("TZID") for e in ics.parse(path.read_bytes()).walk("VEVENT")} - {None}
    assert named <= {packet["zone"]}


# The checks of the checks: a sound calendar made here, then damaged in one point.

SOUND = """\
BEGIN:VCALENDAR
VERSION:2.0
PRODID:-//made for this test//EN
BEGIN:VTIMEZONE
TZID:America/New_York
BEGIN:DAYLIGHT
DTSTART:20260308T020000
TZOFFSETFROM:-0500
TZOFFSETTO:-0400
END:DAYLIGHT
BEGIN:STANDARD
DTSTART:20251102T020000
TZOFFSETFROM:-0400
TZOFFSETTO:-0500
END:STANDARD
END:VTIMEZONE
BEGIN:VEVENT
UID:a-1@document
DTSTAMP:20260807T120000Z
DTSTART;TZID=America/New_York:20260807T080000
DURATION:PT5M
SUMMARY:Reminder\\, morning
DESCRIPTION:First line\\nsecond line\\; with a backslash \\\\ and an umlaut \u00fc
CLASS:PRIVATE
BEGIN:VALARM
ACTION:DISPLAY
TRIGGER:PT0S
DESCRIPTION:Reminder
END:VALARM
END:VEVENT
BEGIN:VEVENT
UID:a-2@document
DTSTAMP:20260807T120000Z
DTSTART;VALUE=DATE:20260814
DTEND;VALUE=DATE:20260815
SUMMARY:Appointment
CLASS:PRIVATE
END:VEVENT
END:VCALENDAR
""".replace("\n", "\r\n").encode()

DAMAGE = [
    (wrapped, b"VERSION:2.0\r\n", b""),
    (wrapped, b"PRODID", b"PRODID:a\r\nPRODID"),
    (line_ends, b"CLASS:PRIVATE\r\n", b"CLASS:PRIVATE\n"),
    (folded, b"SUMMARY:Appointment", b"SUMMARY:" + 68 * b"a"),
    (folded, "\u00fc".encode(), b"\xc3\r\n \xbc"),
    (identified, b"a-2@", b"a-1@"),
    (identified, b"DTSTAMP:20260807T120000Z", b"DTSTAMP:20260807T120000"),
    (zones, b"TZID:America/New_York", b"TZID:Somewhere"),
    (zones, b"TZOFFSETTO:-0400", b"TZOFFSETTO:-0300"),
    (zones, b"DTSTART;TZID=America/New_York:", b"DTSTART:"),
    (ends, b"DURATION:PT5M", b"DURATION:PT5M\r\nDTEND;TZID=America/New_York:20260807T090000"),
    (ends, b"DTEND;VALUE=DATE:20260815", b"DTEND;VALUE=DATE:20260814"),
    (ends, b"DURATION:PT5M\r\n", b""),
    (rules, b"DURATION:PT5M", b"DURATION:PT5M\r\nRRULE:FREQ=DAILY"),
    (rules, b"DURATION:PT5M", b"DURATION:PT5M\r\nRRULE:FREQ=DAILY;UNTIL=20260810T080000"),
    (alarms, b"TRIGGER:PT0S\r\n", b""),
    (alarms, b"ACTION:DISPLAY", b"ACTION:AUDIO"),
    (alarms, b"TRIGGER:PT0S", b"TRIGGER:PT5M"),
    (escaped, b"Reminder\\, ", b"Reminder, "),
    (escaped, b"\\\\ and", b"\\ and"),
]


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.__name__)
def test_sound_calendar_passes(check):
    """The sound calendar of this file is sound."""
    assert check(SOUND) == []


@pytest.mark.parametrize(("check", "old", "new"), DAMAGE, ids=lambda value: getattr(value, "__name__", ""))
def test_damage_is_noticed(check, old, new):
    """Not vacuous: each check fails on a copy that is wrong in its point."""
    assert old in SOUND
    assert check(SOUND.replace(old, new)) != []


def test_disclosure_is_noticed():
    """Not vacuous: HIP-2, HIP-5."""
    patient = {"name": "Maria Example", "record_number": "MR-1", "birth_date": "1955-03-03"}
    assert private(SOUND, ["prednisolone"]) == [] and nameless(SOUND, patient) == []
    for words in (b"Prednisolone", b"Right eye", b"Pressure check"):
        assert private(SOUND.replace(b"SUMMARY:Appointment", b"SUMMARY:" + words), ["prednisolone"]) != []
    assert private(SOUND.replace(b"DESCRIPTION:Reminder", b"DESCRIPTION:Steroid"), []) != []
    assert private(SOUND.replace(b"CLASS:PRIVATE", b"CLASS:PUBLIC"), []) != []
    for secret in (b"MR-1", b"Example", b"19550303"):
        assert nameless(SOUND.replace(b"a-1@", secret + b"@"), patient) != []
