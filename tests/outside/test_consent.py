"""The elements of a consent form that US hospital guidance lists: 42 CFR 482.51(b)(2), State Operations Manual
Appendix A, tags A-0131, A-0466, A-0955. Found as concepts, so that a practice may word its pages anew; whether the words
are good is for people to judge.
"""

import re

import pytest

import poppler
import tags
import wording
from packets import Document, Missing, Packet
from poppler import squeezed

LIKELIHOOD = (
    r"\b\d+ (in|of|out of) \d|per ?cent|\d ?%|not known|unknown|nobody knows|nobody has counted|do not know|no study|no numbers"
    r"|the other \d+\b.* in the trial above"
)
"""How often, or the plain words that this is not known, or where it stands."""

RISKS = {
    "loss of sight": [r"loss of (sight|vision)|lose (some or all )?sight|blind"],
    "retinal tear or detachment": [r"retina.*(tear|detach)|(tear|torn|detach).*retina"],
    "pressure rise": [r"eye pressure|pressure in (the|your) eye|glaucoma"],
    "not enough relief": [r"not enough|too little|does not help|not at all"],
    "more floaters": [r"(more|new) floaters"],
}
LENS_RISK = {"lens injury": [r"lens.*(injur|hit|harm|cloud)|cataract"]}

EXPLAINED = {
    "procedure": [r"procedure|treatment"],
    "benefits": [r"benefit|may (bring|help)|good it"],
    "risks": [r"\brisks?\b|go wrong|harm"],
    "alternatives": [r"alternatives?|other (ways|choices|options)|what else"],
    "were explained": [r"explain|told|talked|discussed"],
}

HAPPENS = {
    "numbing": [r"numb|an(a)?esthetic"],
    "wide pupil": [r"(widen|wide|large|dilat)\w* .*pupil|pupil.*(wide|large|dilat)"],
    "lens on the eye": [r"(contact )?lens .*(on|onto) (your|the) eye"],
    "laser": [r"laser"],
}

def unnamed_procedure(text: str, eye: str):
    """CMS-2: the specific procedure, with the eye within 200 characters."""
    laser = "laser (treatment|vitreolysis)"
    named = re.search(rf"{laser}.{{0,200}}\b{eye}\b|\b{eye}\b.{{0,200}}{laser}", text, re.I)
    return [] if named else ["the procedure is not named with its eye"]


def unlikely_risks(risks: list[wording.Section], above: str):
    """CMS-9, CMS-14: each risk says how often, or that this is not known, or how many the trial leaves of which it tells above."""
    found = [] if risks else ["no risk has a head of its own"]
    silent = [risk.title for risk in risks if not re.search(LIKELIHOOD, risk.text, re.I)]
    found += [f"{title!r} says nothing about how often" for title in silent]
    sent_up = [risk.title for risk in risks if re.search(r"in the trial above", risk.text, re.I)]
    numbers = r"\b(about \d+ in|\d+ of) \d+\b.*\bother \d+\b.*\bnot\b"
    return found + [f"{title!r} points to no number" for title in sent_up if not re.search(numbers, above, re.I)]


def risk_sections(pieces) -> list[wording.Section]:
    """The risks inside the section on what could go wrong: rows of its table, each under its head; in large print headings of
    level 3."""
    inside = wording.section(pieces, 2, r"\brisks?\b|go wrong").blocks
    return wording.sections(inside, 3) or rows(inside)


def rows(pieces) -> list[wording.Section]:
    """Rows of a table that have a head of their own, as sections; one without goes on with the row above, whose head spans both."""
    found: dict[int, wording.Section] = {}
    last = None
    for block in pieces:
        row = around(block.element, "TR")
        if row is None or all(cell.kind == "TH" for cell in row.children if isinstance(cell, tags.Element)):
            continue
        headed = any(cell.kind == "TH" for cell in row.children if isinstance(cell, tags.Element))
        one = found.setdefault(id(row), wording.Section("", 3, [])) if headed or last is None else last
        last = one
        if block.kind == "TH" or block.element.inside("TH"):
            one.title = f"{one.title} {block.text}".strip()
        else:
            one.blocks.append(block)
    return list(found.values())


def around(element: tags.Element, kind: str) -> tags.Element | None:
    """The nearest element of a kind that holds another."""
    while element is not None and element.kind != kind:
        element = element.parent
    return element


def test_practice_on_first_page(consent: Document):
    """CMS-1: the place where it is done, by name, on page 1."""
    assert squeezed(consent.packet.fact("practice")) in squeezed(poppler.texts(consent.path)[0])


def test_procedure_is_named(consent: Document):
    """CMS-2, see `unnamed_procedure`."""
    assert unnamed_procedure(wording.text(consent), consent.packet.eye) == []


def test_surgeon_is_named(consent: Document):
    """CMS-3, CMS-7: who treats, by name, in the text and beside the signature of the one who explained."""
    surgeon = consent.packet.fact("surgeon")
    assert len(surgeon.split()) >= 2 and not re.search(r"\b(surgeon|name|xxx)\b|___", surgeon, re.I)
    assert squeezed(surgeon) in squeezed(wording.text(consent))


def test_reason(consent: Document):
    """CMS-13: why."""
    assert squeezed(consent.packet.fact("reason")) in squeezed(wording.text(consent))


def signed_sentence(pieces) -> str:
    """The paragraphs that stand before the first line for a signature, from their heading on."""
    first = next((i for i, block in enumerate(pieces) if block.text == "Printed name"), len(pieces))
    heading = max((i for i in range(first) if pieces[i].kind in tags.HEADINGS), default=0)
    return " ".join(block.text for block in pieces[heading:first])


def test_explanation_is_stated(consent: Document):
    """CMS-4: procedure, benefits, risks and alternatives were explained: said in what is signed."""
    assert wording.missing(signed_sentence(wording.blocks(consent)), EXPLAINED) == []


def test_nothing_claimed_for_the_patient(consent: Document):
    """GMC-4 (Decision making and consent, 2020), MON-4: a signature shows that one was told, not that one understood everything."""
    claims = {"a claim": r"I (fully |completely )?understand (all|everything|fully)|I have no (more )?questions|fully informed"}
    assert wording.found(signed_sentence(wording.blocks(consent)), claims, re.I) == []


def test_risks_are_listed(consent: Document):
    """CMS-9: the material risks, each under a head of its own, none twice."""
    titles = [risk.title for risk in risk_sections(wording.blocks(consent))]
    assert len(titles) == len(set(titles))
    wanted = RISKS | (LENS_RISK if consent.packet.fact("lens") == "natural" else {})
    text = " ".join(f"{risk.title} {risk.text}" for risk in risk_sections(wording.blocks(consent)))
    assert wording.missing(text, wanted) == []


def test_risks_have_a_likelihood(consent: Document):
    """CMS-14, see `unlikely_risks`."""
    pieces = wording.blocks(consent)
    assert unlikely_risks(risk_sections(pieces), wording.section(pieces, 2, r"what it may bring|benefit").text) == []


def test_rare_and_common_risks(consent: Document):
    """CMS-14: the rare and severe as well as the common and mild."""
    titles = " ".join(risk.title for risk in risk_sections(wording.blocks(consent)))
    kinds = {"severe": [r"sight|blind|detach"], "mild": [r"sore|red|irritat|swollen|floaters|relief"]}
    assert wording.missing(titles, kinds) == []


def test_procedure_is_described(consent: Document):
    """CMS-12: what is done, with the numbing and the wide pupil."""
    assert wording.missing(wording.text(consent), HAPPENS) == []


LENS_WORDS = {
    "natural": (r"natural lens", r"implant marks|marks? on (the|your) (lens )?implant|\bpits?\b"),
    "implant": (r"\bimplant\b", r"injury to your natural lens|you may need lens surgery|\bcataract\b"),
}


def wrong_lens(risks: str, lens: str):
    """CMS-9 for this eye: a natural lens hears of lens injury and not of marks on an implant, an implant the reverse."""
    if lens not in LENS_WORDS:
        return []
    wanted, unwanted = LENS_WORDS[lens]
    found = [] if re.search(wanted, risks, re.I) else [f"the risks do not speak of this eye's lens ({lens})"]
    return found + [hit for hit in wording.found(risks, {"of another eye": unwanted}, re.I)]


def test_risks_are_those_of_this_eye(consent: Document):
    """See `wrong_lens`."""
    text = " ".join(f"{risk.title}. {risk.text}" for risk in risk_sections(wording.blocks(consent)))
    assert wrong_lens(text, consent.packet.fact("lens")) == []


# The checks of the checks.


def _risk(title, text):
    return wording.Section(title, 3, [tags.Block(tags.Element("P", "P", {}, None, None, None), text, 0)])


def test_faults_are_noticed():
    """Not vacuous: each function on words that lack its point."""
    assert unnamed_procedure("A laser treatment.", "right eye") and unnamed_procedure("Treatment of your right eye", "right eye")
    assert not unnamed_procedure("Laser treatment of floaters in your right eye", "right eye")
    assert unlikely_risks([], "") and unlikely_risks([_risk("Pain", "It may hurt.")], "")
    assert not unlikely_risks([_risk("Pain", "It hurt about 5 in 100 people."), _risk("Loss", "How often is not known.")], "")
    above = [_risk("Too little", "The other 17 in the trial above.")]
    assert unlikely_risks(above, "It helps.") and not unlikely_risks(above, "It helped about 5 in 9; the other 4 it did not.")
    assert set(wording.missing("nothing of it", EXPLAINED)) == set(EXPLAINED)
    assert wrong_lens("Marks on the lens implant", "natural") and wrong_lens("It hits your natural lens", "implant")
    assert not wrong_lens("Marks on the lens implant", "implant")


@pytest.mark.parametrize("concepts", [RISKS, LENS_RISK, EXPLAINED, HAPPENS])
def test_concepts_can_be_missing(concepts):
    """Not vacuous: an empty text lacks every concept."""
    assert wording.missing("", concepts) == list(concepts)


def test_packet_without_a_fact_is_refused(sound_consent):
    """Fail closed: a fact that the packet does not list is an error, not a pass."""
    with pytest.raises(Missing):
        Packet(sound_consent.packet.path).fact("no such fact")
