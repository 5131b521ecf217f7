"""Bottles on the desk sheet and last days on the patient's page, counted anew from the doses of the packet.

Yield: 20 drops a milliliter by convention (WHO ATC/DDD), 17.7 the poorest measured (Am J Ophthalmol 1986;101(6)). In use:
28 days (EMA CPMP/QWP/159/96), the day of opening included.
"""

import datetime
import math
import re

import pytest

import tags
import wording
from packets import Document
from test_aftercare import evening
from test_dates import long_date
from test_visits import profile

POOREST, CONVENTION, IN_USE = 17.7, 20, 28
BOTTLES = re.compile(
    r"(\d+) bottles? of ([\d.]+) mL of (.+?): (\d+) drops? at home, (\d+) drops? with (\d+) % spare; ([\d.]+) mL by the convention"
    r"\. It holds \d+ drops at the poorest yield, \d+ by the convention \(then (\d+) bottles?\)"
)


def windows(dates: list[datetime.date]) -> list[list[datetime.date]]:
    """The doses of one bottle after the other, by the time each may be used."""
    found: list[list[datetime.date]] = []
    for date in sorted(dates):
        if not found or (date - found[-1][0]).days >= IN_USE:
            found.append([])
        found[-1].append(date)
    return found


def spare(drops: int, percent: int) -> int:
    return math.ceil(drops * (100 + percent) / 100)


def bottles(dates: list[datetime.date], size: float, percent: int, per_ml: float) -> int:
    """DROP-6, DROP-7: how many bottles hold the doses with their spare, none of them used after its time."""
    return sum(math.ceil(spare(len(window), percent) / math.floor(size * per_ml)) for window in windows(dates))


def percent_spare(packet) -> int:
    """DROP-12 (bottles that ran out early and poor sight: BMC Ophthalmol 2014;14:79): more to spare in large print."""
    spare = profile()["thresholds"]["drop_spare_percent"]
    return spare["usual"] + (spare["more_in_large_print"] if packet["print"] == "large" else 0)


def at_home(packet) -> dict[str, list[datetime.date]]:
    """The waking day of each dose: one after midnight is taken from the bottle of the evening before, as its row says."""
    found: dict[str, list[datetime.date]] = {}
    for dose in packet["doses"]:
        if not dose["given"]:
            found.setdefault(dose["name"], []).append(evening(dose))
    return found


def test_bottles_are_counted(desk: Document):
    """DROP-6, DROP-7 (studies of technique: Eye 2013;27:1293), DROP-12, see `bottles` and `percent_spare`."""
    packet = desk.packet
    if packet["moment"] != "after" or packet["withheld"]:
        return
    percent = percent_spare(packet)
    text = " ".join(block.text for block in tags.reading(desk.path).blocks())
    told = {match[3]: match for match in BOTTLES.finditer(text)}
    for name, dates in at_home(packet).items():
        match = told[name]
        assert re.search(rf"Give {match[1]} bottles?, {match[2]} mL: {re.escape(name)}", text)
        size = float(match[2])
        assert int(match[1]) == bottles(dates, size, percent, POOREST)
        assert int(match[8]) == bottles(dates, size, percent, CONVENTION)
        assert (int(match[4]), int(match[5]), int(match[6])) == (len(dates), spare(len(dates), percent), percent)
        assert float(match[7]) == pytest.approx(len(dates) / CONVENTION, abs=0.051)


def test_last_days_of_bottles(aftercare: Document):
    """DROP-5: each bottle with the day it is opened and the last day of its use, or the day the drug stops if earlier."""
    text = " ".join(wording.text(aftercare).split())
    for name, dates in at_home(aftercare.packet).items():
        for window in windows(dates):
            last = min(window[0] + datetime.timedelta(days=IN_USE - 1), max(dates))
            assert long_date(window[0]) in text and long_date(last) in text, f"{name}: {window[0]} to {last}"


def test_steps_are_dated(aftercare: Document):
    """UMS-3 (BMJ Open 2014;4:e003699): each step of a taper with its first and its last date, the last with "stop"."""
    steps: dict[tuple, list[str]] = {}
    for dose in aftercare.packet["doses"]:
        steps.setdefault((dose["drug"], dose["step"]), []).append(dose["at"][:10])
    tapers = {drug for drug, step in steps if step > 1}
    text = " ".join(block.text for block in wording.blocks(aftercare))
    for (drug, _), dates in steps.items():
        if drug in tapers:
            for date in (min(dates), max(dates)):
                assert long_date(datetime.date.fromisoformat(date)) in text
    assert not tapers or re.search(r"then stop", text, re.I)


def test_arithmetic():
    """Not vacuous: 4, 3, 2 and 1 a day for a week each are 70 drops, 88 with the spare; opened 7 August, used to 3 September."""
    day, dates = datetime.date(2026, 8, 7), []
    for per_day in (4, 3, 2, 1):
        for _ in range(7):
            dates += [day] * per_day
            day += datetime.timedelta(days=1)
    assert len(dates) == 70 and spare(70, 25) == 88 and len(windows(dates)) == 1
    assert dates[-1] == datetime.date(2026, 9, 3)
    assert (bottles(dates, 5, 25, POOREST), bottles(dates, 2.5, 25, POOREST), bottles(dates, 4, 25, CONVENTION)) == (1, 2, 2)
    assert percent_spare({"print": "large"}) > percent_spare({"print": "standard"}) > 0
    assert len(windows([*dates, day])) == 2 and bottles([*dates, day], 5, 25, POOREST) == 2
