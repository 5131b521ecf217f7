"""The options against each other: the same questions, the same detail, the same look.

IPDASi v4.0 (Joseph-Williams et al., Med Decis Making 2014;34:699-710) by its item numbers; CMS A-0131 as in test_consent;
Montgomery v Lanarkshire [2015] UKSC 11, para 87; BGB section 630e(1) sentence 3.
"""

import re

import options
import shares
import tags
import wording
from options import OPTIONS, Told
from packets import Document

INVOLVES, BRINGS, HARMS = r"involve|what is done", r"bring|benefit|help", r"wrong|risk|harm|torn|detached"
QUESTIONS = (INVOLVES, BRINGS, HARMS)


def answer(pairs: dict[str, str], question: str) -> str:
    """What an option says to all questions of one kind."""
    return " ".join(text for asked, text in pairs.items() if re.search(question, asked, re.I))


def words(text: str) -> int:
    """Words of an answer; numbers of notes are not read aloud."""
    return len(shares.NOTE.sub("", text).split())


def unequal_options(told: Told):
    """Laser, no treatment and vitrectomy, each with what it involves, what it may bring and what could go wrong."""
    found = [f"{name} is not among the options" for name in OPTIONS if name not in told]
    for name, pairs in told.items():
        empty = [question for question in QUESTIONS if words(answer(pairs, question)) < 5]
        found += [f"{name} says next to nothing on {question}" for question in empty]
    asked = {tuple(pairs) for pairs in told.values()}
    return found + (["the options are not told by the same questions"] if len(asked) > 1 else [])


def lopsided(told: Told):
    """Words on benefit and harm of one option are within half and double of each other."""
    found = []
    for name, pairs in told.items():
        ratio = words(answer(pairs, BRINGS)) / max(1, words(answer(pairs, HARMS)))
        if not 0.5 <= ratio <= 2:
            found.append(f"{name}: {ratio:.2f} words of benefit for each word of harm")
    return found


def without_numbers(told: Told):
    """Each option has a number, or says that none is known."""
    known = [name for name, pairs in told.items() if re.search(r"\d+ in \d|not known", " ".join(pairs.values()))]
    return [f"no number for {name}" for name in told if name not in known]


LIKE = (r"torn", r"detached")
"""Harms that each option is asked for by itself, so that tear stands beside tear."""


def unlike(told: Told):
    """An option that leaves out a harm asked of all, or sets another measure beside the trial's without saying so."""
    missing = [f"{name} says nothing of {harm}" for name, pairs in told.items() for harm in LIKE if not answer(pairs, harm)]
    unmarked = [
        f"{name}: full relief, or less bother, beside much better" for name, pairs in told.items()
        if re.search(r"full relief|bothered \d", answer(pairs, BRINGS)) and "Not comparable" not in answer(pairs, BRINGS)
    ]
    return missing + unmarked


def test_like_with_like(consent: Document):
    """IPD-C1, IPD-X6: tears beside tears, detachments beside detachments, each with its time; see `unlike`."""
    told = options.told(consent)
    assert unlike(told) == []
    for pairs in told.values():
        numbers = [text for text in (answer(pairs, harm) for harm in LIKE) if re.search(r"\d (in|of) \d", text)]
        assert all(re.search(r"\d (months?|years?|weeks?)|[Mm]ade by the surgery|not known", text) for text in numbers), pairs


def denominators(told: Told) -> set[int]:
    return {share.n for pairs in told.values() for text in pairs.values() for share in shares.shares(text)}


COURSE = {"course": [
    r"(floaters?|they|theirs|it)\b.*\b(stay|fade|remain|notice|bother(ing)?|less|go(es)?|went|gone)\b|used to them"
]}


def test_options(consent: Document):
    """CMS-15, IPD-Q3, IPD-Q4, IPD-Q5, MON-2, BGB-2, TJC-1, see `unequal_options`."""
    assert unequal_options(options.told(consent)) == []


def test_no_treatment_has_consequences(consent: Document):
    """CMS-16, IPD-X1: what follows if nothing is done, and what follows from saying no."""
    pairs = options.told(consent).get("no treatment", {})
    assert wording.missing(" ".join(pairs.values()), COURSE) == []
    declining = wording.section(wording.blocks(consent), 2, r"decid").text
    assert re.search(r"\bif you (say no|decline|decide against)\b[^.]*\.", declining, re.I)


def test_equal_detail(consent: Document):
    """IPD-C1, see `lopsided`."""
    assert lopsided(options.told(consent)) == []


def looks(document: Document) -> set:
    """Size and colour of the type in which the options are told."""
    reading = tags.reading(document.path)
    table = options.table(reading)
    inside = table.walk() if table else [
        block.element for block in wording.section(wording.blocks(document), 2, options.SECTION).blocks
    ]
    numbers = shares.numbers(document)
    cells = [
        cell for cell in inside
        if cell.kind == "P" and (table is None or cell.inside("TD")) and reading.text(cell) not in numbers
        and not options.option(reading.text(cell))
    ]
    runs = [run for cell in cells for content in cell.contents() for run in reading.runs.get(content, []) if run.text.strip()]
    return {(round(run.size, 1), run.colour) for run in runs}


def test_equal_look(consent: Document):
    """IPD-C1: benefit and harm of all options in type of one size and one colour; a number over its picture has the colour of
    the picture."""
    assert len(looks(consent)) == 1


def narrow(widths: list[float]):
    """Columns as wide as each other, within a tenth."""
    return [] if max(widths) <= 1.1 * min(widths) else [f"columns {[round(w) for w in widths]} pt wide"]


def test_side_by_side(consent: Document):
    """IPD-X2, IPD-C1: in standard print one table with a column of the same width for each option, in large print the same
    questions in the same order under the name of each option."""
    reading = tags.reading(consent.path)
    table = options.table(reading)
    assert (table is None) == (consent.packet["print"] == "large")
    if table is not None:
        rows = [options.cells(row) for row in table.walk() if row.kind == "TR"]
        heads = rows[0]
        assert [len(row) for row in rows].count(len(heads)) >= 6
        starts = [min(run.box[0] for c in head.contents() for run in reading.runs[c]) for head in heads]
        assert len(starts) == 3 and narrow([b - a for a, b in zip(starts, starts[1:])]) == []


def test_options_have_numbers(consent: Document):
    """IPD-X3, see `without_numbers`."""
    assert without_numbers(options.told(consent)) == []


def test_one_denominator(consent: Document):
    """IPD-X7, RISK-3: all shares of the comparison are out of the same number."""
    assert len(denominators(options.told(consent))) == 1


# The checks of the checks.


def _told(**changes) -> Told:
    sound = {
        name: {"What it involves": "An hour in a room.", "What it may bring": "About 5 in 100 get better by it. about 5 in 100",
               "What could go wrong": "It may hurt in about 5 in 100 eyes."}
        for name in OPTIONS
    }
    return {name: pairs | changes.get(name.replace(" ", "_"), {}) for name, pairs in sound.items()}


def test_faults_are_noticed():
    """Not vacuous: an option left out, an empty answer, another question, much more harm than benefit, another denominator."""
    sound = _told()
    assert not unequal_options(sound) and not lopsided(sound) and not without_numbers(sound)
    assert denominators(sound) == {100}
    assert unequal_options({name: pairs for name, pairs in sound.items() if name != "vitrectomy"})
    assert unequal_options(_told(laser={"What it may bring": "Good."}))
    assert unequal_options(_told(laser={"What else": "It may be dear to some people."}))
    assert lopsided(_told(laser={"What could go wrong": "harm " * 27})) and lopsided(_told(laser={"What could go wrong": "no"}))
    bare = {"What it may bring": "It helps most people well.", "What could go wrong": "It may hurt for some days."}
    assert without_numbers(_told(no_treatment=bare))
    assert len(denominators(_told(laser={"What it may bring": "about 3 in 1,000"}))) == 2
    like = {name: {"A torn retina": "Never seen.", "A detached retina": "Never seen."} for name in OPTIONS}
    assert unlike(like) == [] and unlike(like | {"laser": {"A torn retina": "Never seen."}})
    assert unlike(like | {"vitrectomy": like["laser"] | {"What it may bring": "5 of 9 eyes had full relief."}})
    assert wording.missing("Nothing is done.", COURSE) == ["course"]
    assert narrow([100, 120]) and not narrow([100, 105])
