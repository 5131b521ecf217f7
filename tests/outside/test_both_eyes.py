"""One calendar for two treated eyes: its boxes and its events are the doses of both packets, each under its eye."""

import collections
import datetime

import ics
import printed_calendar
import tags
import test_doses
from packets import BothEyes


def wanted(both: BothEyes) -> collections.Counter:
    """(name, eye, local time, given) of each dose from the session of the second eye on."""
    starts = max(test_doses.local(packet["starts"]) for packet in both.packets)
    found = collections.Counter()
    for packet in both.packets:
        for dose in packet["doses"]:
            at = test_doses.local(dose["at"])
            if at >= starts:
                found[dose["name"], packet.eye, at, dose["given"]] += 1
    return found


def on_paper(both: BothEyes, doses) -> collections.Counter:
    names = {dose["name"] for packet in both.packets for dose in packet["doses"]}
    found = collections.Counter()
    for dose in doses:
        eyes = [eye for eye in ("right eye", "left eye") if eye in dose.drug.lower()]
        assert len(eyes) == 1, f"the head {dose.drug!r} does not say which eye"
        found[test_doses.named(dose.drug, names), eyes[0], dose.at, dose.ticked] += 1
    return found


def test_paper_equals_both_packets(both_eyes: BothEyes):
    """ICS-10, DROP-14, SITE-1: a box for each dose of either eye, under its drug and its eye in words."""
    assert wanted(both_eyes) and on_paper(both_eyes, printed_calendar.read(both_eyes.path)) == wanted(both_eyes)


def test_file_equals_both_packets(both_eyes: BothEyes):
    """ICS-10, ICS-4: an event for each dose still to be taken; it says its eye and keeps the identifier of its own case."""
    events = ics.read(both_eyes.path.with_suffix(".ics"))
    codes = {packet.eye: packet["case"].lower() for packet in both_eyes.packets}
    found = collections.Counter()
    for event in events:
        eye = next(eye for eye in codes if eye in event.words)
        assert f"@{codes[eye]}-after" in event.uid
        found[eye, event.local] += 1
    assert len({event.uid for event in events}) == len(events)
    doses = collections.Counter((eye, at) for _, eye, at, given in wanted(both_eyes).elements() if not given)
    assert found == doses


def test_own_pages_hold_no_second_calendar(both_eyes: BothEyes):
    """Two calendars for one patient would be followed by neither: the packets of both cases point at the common one."""
    for packet in both_eyes.packets:
        path = packet.file("aftercare.pdf")
        assert printed_calendar.read(path) == []
        assert both_eyes.path.stem in " ".join(block.text for block in tags.reading(path).blocks())
        assert [event for event in ics.read(packet.file("calendar.ics")) if event.uid.startswith("dose-")] == []


def test_dates_follow_each_other(both_eyes: BothEyes):
    """Each date stands once on each table, and none is left out."""
    dates = [date for _, date in printed_calendar.rows(both_eyes.path)]
    starts = [0, *(at for at in range(1, len(dates)) if dates[at] <= dates[at - 1]), len(dates)]
    for first, last in zip(starts, starts[1:]):
        table = dates[first:last]
        assert table == [table[0] + datetime.timedelta(days=day) for day in range(len(table))]


def test_head_names_both_eyes(both_eyes: BothEyes):
    """SITE-2, SITE-3, SITE-10: every page says the patient and that it is for both eyes."""
    text = [block.text for block in tags.reading(both_eyes.path).blocks()]
    assert any("both eyes" in line.lower() for line in text)


def test_lost_dose_is_noticed(both_eyes: BothEyes):
    """Not vacuous: a box less, and a box of the other eye."""
    doses = printed_calendar.read(both_eyes.path)
    assert on_paper(both_eyes, doses[1:]) != wanted(both_eyes)
    assert on_paper(both_eyes, [*doses[1:], doses[-1]]) != wanted(both_eyes)
