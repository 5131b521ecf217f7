"""What a patient must know to handle each drop: purpose, nuisance, when to call, where to keep it, whose it is.

The handling of each drug is read from the formulary, which names the label or paper behind each value.
"""

import re

import pytest

import formulary
import ink
from contrast import from_hex, ratio
import printed_calendar
import tags
import wording
from packets import BothEyes, Document
from test_directions import courses

WARNING = from_hex("#a81e16")
STORED = {
    "as_the_box_says": r"as the box says", "room": r"room temperature", "cold": r"refrigerator",
    "cold_until_opened": r"refrigerator until .*open.* room temperature",
}
"""Words for each way to keep a bottle."""
ABOUT = {
    "what it is for": r"\b(Keeps|Calms|Makes|Numbs|Holds) ",
    "what one may notice": r"\b(Stings|Blurs|[Bb]lurs|taste|Tingling|mouth|red eye)\b",
}
"""Words of what a drop is for and of what it does besides."""


def unexplained(told: list[str], names: list[str]):
    """USP-6, DROP-13: the item of each drug says what it is for and what one may notice."""
    said = {name: item for name in names for item in told if item.startswith(name)}
    return [f"{name} has no item" for name in names if name not in said] + [
        f"{name} does not say {what}" for name, item in said.items() for what, words in ABOUT.items() if not re.search(words, item)
    ]


def test_purpose_and_nuisance(aftercare: Document):
    """USP-6, DROP-13, see `unexplained`."""
    names = [drug["name"] for drug in aftercare.packet["dosages"]]
    assert unexplained(courses(aftercare), names) == []


def without_call(sentences: list[str]):
    """DROP-13: one sentence says for whichever drop when to call."""
    any_drop = re.compile(r"\b(any|each|every) (of these |of your )?drops?\b.*\bcall us if\b")
    said = any(any_drop.search(sentence) for sentence in sentences)
    return [] if said else ["no sentence says when to call because of a drop"]


def test_when_to_call(aftercare: Document):
    """DROP-13, see `without_call`."""
    if aftercare.packet["dosages"]:
        assert without_call(wording.sentences(block.text for block in wording.blocks(aftercare))) == []


def unkept(sentences: list[str], drugs: dict[str, str]):
    """DROP-11: a sentence names each drug and says where it is kept. `drugs`: storage by name."""
    kept = [sentence for sentence in sentences if sentence.startswith("Keep ")]
    return [
        f"{name}: {storage}" for name, storage in drugs.items()
        if not any(name in sentence and re.search(STORED[storage], sentence) for sentence in kept)
    ]


def handled(document: Document) -> list[dict]:
    """The formulary's rows of the drugs used at home."""
    return [formulary.drugs()[drug["drug"]] for drug in document.packet["dosages"]]


def test_storage(aftercare: Document):
    """DROP-11, see `unkept`."""
    drugs = {row["name"]: row["storage"] for row in handled(aftercare)}
    assert unkept(wording.sentences(block.text for block in wording.blocks(aftercare)), drugs) == []


def wrongly_shaken(heads: set[str], drugs: list[dict]):
    """DROP-11: the head of a column says to shake the bottle where the formulary says so, and nowhere else."""
    return [
        head for head in heads for row in drugs
        if head.startswith(f"{row['name']} {row['strength']}") and bool(re.search("shake", head, re.I)) != row["shake"]
    ]


def test_shaking(aftercare: Document):
    """DROP-11, see `wrongly_shaken`."""
    heads = {dose.drug for dose in printed_calendar.read(aftercare.path)}
    assert wrongly_shaken(heads, handled(aftercare)) == []


def test_shaking_for_both_eyes(both_eyes: BothEyes):
    """DROP-11 in the calendar for both eyes, see `wrongly_shaken`."""
    drugs = [formulary.drugs()[drug["drug"]] for packet in both_eyes.packets for drug in packet["dosages"]]
    heads = {dose.drug for dose in printed_calendar.read(both_eyes.path)}
    assert heads and wrongly_shaken(heads, drugs) == []


def wrong_units(told: list[str], drugs: list[dict]):
    """DROP-11: a single-dose unit is fresh for each drop and thrown away, and no bottle is."""
    found = []
    for row in drugs:
        name = f"{row['name']} {row['strength']}"
        own = [item for item in told if item.startswith(name)]
        fresh = ["A fresh unit" in text and "Throw the rest away" in text for text in own]
        if not own or any(one != row.get("single_dose", False) for one in fresh):
            found.append(name)
    return found


def test_single_units(aftercare: Document):
    """DROP-11, see `wrong_units`."""
    assert wrong_units(courses(aftercare), handled(aftercare)) == []


def not_kept_apart(text: str, eye: str):
    """DROP-9: these drops are for this eye alone, and for nobody else."""
    concepts = {"this eye only": [rf"only in your {eye}"], "never shared": [r"(not|never) share"]}
    return wording.missing(text, concepts)


def test_own_bottle(aftercare: Document):
    """DROP-9, see `not_kept_apart`."""
    if aftercare.packet["dosages"]:
        assert not_kept_apart(wording.text(aftercare), aftercare.packet.eye) == []


def test_a_bottle_for_each_eye(both_eyes: BothEyes):
    """DROP-9: with both eyes in one calendar the page says that each has its own bottles."""
    text = wording.text(Document(both_eyes.path, "both-eyes", both_eyes.packets[1]))
    assert re.search(r"each eye has its own bottles?", text, re.I)


def signs(page: ink.Page) -> list[ink.Shape]:
    """Warning triangles: shapes with three corners, filled with the colour of warnings."""
    filled = [shape for shape in page.shapes if shape.fill and ratio(shape.fill, WARNING) < 1.01 and len(shape.polygons) == 1]
    return [shape for shape in filled if len({tuple(point) for point in shape.polygons[0]}) == 3]


def mute(page: ink.Page):
    """USP-10: beside each sign stands text at its height, so nobody has to guess what it means."""
    found = []
    for sign in signs(page):
        _, bottom, right, top = sign.box
        beside = [run for run in page.runs if run.text.strip() and run.box[0] > right and bottom < (run.box[1] + run.box[3]) / 2 < top]
        found += [] if beside else [sign.box]
    return found


def test_one_sign_with_words(aftercare: Document):
    """USP-10: there is one warning sign, so that it is seen, and words stand beside it, see `mute`."""
    pages = ink.pages(aftercare.path)
    assert sum(len(signs(page)) for page in pages) == 1
    assert [hit for page in pages for hit in mute(page)] == []


def untold(figures: list[tags.Element]):
    """USP-10: pictures that do not say in some words what they show; in the head of a column a word is enough."""
    return [figure.alt for figure in figures if len((figure.alt or "").split()) < (1 if figure.inside("TH") else 5)]


def test_pictures_have_words(aftercare: Document):
    """USP-10, see `untold`."""
    assert untold(tags.reading(aftercare.path).elements("Figure")) == []


def test_faults_are_noticed(sound_aftercare):
    """Not vacuous: a drug without a purpose, without a place, shaken wrongly, thrown away wrongly, shared."""
    sound = ["a 1%: 1 drop each time. Calms the eye. Stings a little."]
    assert unexplained(sound, ["a 1%"]) == []
    assert unexplained([], ["a 1%"]) and unexplained(["a 1%: Stings a little."], ["a 1%"])
    assert without_call(["Call us."]) and not without_call(["With any of these drops, call us if it itches."])
    assert not_kept_apart("Use it only in your left eye.", "left eye") == ["never shared"]
    assert not_kept_apart("Do not share. Use it only in your left eye.", "right eye") == ["this eye only"]
    figures = [tags.Element("Figure", "Figure", {}, alt, None, None) for alt in (None, "A picture.")]
    assert untold(figures) == [None, "A picture."]
    page = next(page for page in ink.pages(sound_aftercare.path) if signs(page))
    assert mute(page) == [] and mute(ink.Page(page.width, page.height, [], page.shapes))


@pytest.mark.parametrize("storage", STORED)
def test_wrong_place_is_noticed(storage):
    """Not vacuous: each way to keep a bottle is told from the others."""
    say = {
        "as_the_box_says": "Keep timolol as the box says.", "room": "Keep timolol at room temperature.",
        "cold": "Keep timolol in the refrigerator.",
        "cold_until_opened": "Keep timolol in the refrigerator until opened, then at room temperature.",
    }
    assert unkept([say[storage]], {"timolol": storage}) == [] and unkept([say[storage]], {"latanoprost": storage})
    assert unkept(["Keep timolol dry."], {"timolol": storage})


@pytest.mark.parametrize("row", [{"shake": True}, {"shake": False}])
def test_wrong_handling_is_noticed(row):
    """Not vacuous: shaken or thrown away against the formulary."""
    row = {"name": "a", "strength": "1%", "single_dose": row["shake"]} | row
    says, silent = "a 1% Right eye Shake the bottle first", "a 1% Right eye"
    assert bool(wrongly_shaken({says}, [row])) != row["shake"] and bool(wrongly_shaken({silent}, [row])) == row["shake"]
    fresh, bottle = "a 1%: A fresh unit for each drop. Throw the rest away at once.", "a 1%: You get 1 bottle."
    assert bool(wrong_units([fresh], [row])) != row["shake"] and bool(wrong_units([bottle], [row])) == row["shake"]
    assert wrong_units([], [row])
