"""Pages as records: which version of what, made when, in which language, withheld or marked where they must not be used.

42 CFR 416.47, 416.50, 416.52; BGB section 630f; 21 CFR 11.70 as a principle; ISO 16684-1 (XMP); Regulation (EU) 2016/679.
"""

import datetime
import hashlib
import json
import re
import zoneinfo

import pikepdf
import pytest
from babel.dates import format_date

import packets
import poppler
import tags
import wording
from packets import Document, Packet
from poppler import squeezed
from test_dates import long_date
from xmp import metadata, value

DRAFT = re.compile(r"\bdraft\b.*not for patients", re.I)


def runs() -> dict[str, dict]:
    return {row["run"]: row for row in packets.table("runs.json")}


def of_case(folder: str, moment: str = "before", revision: int = 1) -> Packet:
    found = [p for p in packets.packets() if p.path.parent.name == folder and (p["moment"], p["revision"]) == (moment, revision)]
    assert len(found) == 1, f"{len(found)} packets in {folder} at {moment}"
    return found[0]


def written(folder: str) -> list[Document]:
    return [document for document in packets.documents() if document.path.parent.name == folder]


def test_withheld_without_notices():
    """BGB-10: no cost and no rules set by the practice, no consent; exit code 1 and the reason."""
    run = runs()["no-notices"]
    assert run["exit"] == 1 and re.search(r"withheld.*part/cost.*part/regulation", run["said"])
    assert [document.page for document in written("no-notices") if document.for_patient] == []
    assert of_case("no-notices")["withheld"] is True
    surgeon = next(document for document in written("no-notices") if document.page == "surgeon")
    assert re.search(r"consent.*withheld.*", wording.text(surgeon), re.I)


REFUSED = {
    "no-side": r"side", "both-eyes": r"side|both", "no-reason": r"reason", "no-facility": r"name", "no-surgeon": r"name",
    "core-left-out": r"risk-sight-loss",
}


@pytest.mark.parametrize("name", REFUSED)
def test_refused(name):
    """CMS-1, CMS-3, CMS-13, SITE-10, BGB-12: without the side, a single side, the reason, the facility or the surgeon, or with
    the rare severe harm left out by hand, nothing is written; exit code 2, and the message names the place."""
    run = runs()[name]
    assert run["exit"] == 2 and re.search(REFUSED[name], run["said"]), run
    assert not (packets.root() / name).exists()


def test_other_runs_are_complete():
    """The packets that must be made are made: nothing is checked in vain."""
    made = {name for name, run in runs().items() if run["exit"] == 0}
    assert made == {
        "companions", "companions-again", "companions-second-version", "large-print", "germany-before", "germany-after",
    }


def undrafted(pages: list[str]):
    return [f"page {number} is not marked as a draft" for number, page in enumerate(pages, 1) if not DRAFT.search(tags.plain(page))]


def test_drafts_are_marked():
    """SIG-11, BGB-5: without text in the language of the place, every page of the patient says that it is a draft."""
    patient = [document for document in written("germany") if document.for_patient]
    assert {document.page for document in patient} == {"consent", "aftercare"}
    assert [fault for document in patient for fault in undrafted(poppler.texts(document.path))] == []


def test_released_pages_are_no_drafts(patient_document: Document):
    """SIG-11: the line stands nowhere else."""
    if patient_document.path.parent.name != "germany":
        assert not any(DRAFT.search(tags.plain(page)) for page in poppler.texts(patient_document.path))


def test_new_version_keeps_the_old():
    """BGB-9, SIG-13: a second version has other file names and another number, says which one it replaces, and leaves the
    files of the first as they were listed."""
    first, second = of_case("companions"), of_case("companions", revision=2)
    names = [{entry["file"] for entry in packet["documents"]} for packet in (first, second)]
    assert names[0].isdisjoint(names[1])
    for entry in first["documents"]:
        assert hashlib.sha256(first.path.with_name(entry["file"]).read_bytes()).hexdigest() == entry["sha256"]
    consent = next(second.path.with_name(name) for name in names[1] if name.endswith("consent.pdf"))
    assert all(re.search(r"version 2\b.*replaces version 1\b", tags.plain(page)) for page in poppler.texts(consent))


def test_same_record_same_pages():
    """SIG-13, BGB-6: the same record gives the same bytes, so the copy handed over is the page that was signed."""
    first, again = of_case("companions"), of_case("companions-again")
    assert [entry["sha256"] for entry in first["documents"]] == [entry["sha256"] for entry in again["documents"]]


def unlike_metadata(title: str, xmp, language: str, root_language: str, packet: Packet):
    """Title and language are the same on the page, in XMP and in the record."""
    found = [] if value(xmp, "dc:title") == title else [f"XMP calls it {value(xmp, 'dc:title')!r}"]
    said = {value(xmp, "dc:language"), root_language, language}
    return found + ([] if said == {packet["language"]} else [f"languages {said}"])


def test_metadata(document: Document):
    """SIG-1, ASC-8: title and language, see `unlike_metadata`; document id and version of each page are in test_pages."""
    with pikepdf.open(document.path) as pdf:
        title = next(block.text for block in wording.blocks(document) if block.kind == "H1")
        language = document.packet["language"]
        assert unlike_metadata(title, metadata(pdf), language, str(pdf.Root.Lang), document.packet) == []


def test_date_of_issue(document: Document):
    """IPD-C3, GMC-3: the date in the file is the date at the foot of each page, in the time zone of the practice."""
    with pikepdf.open(document.path) as pdf:
        made = datetime.datetime.fromisoformat(value(metadata(pdf), "xmp:CreateDate"))
    local = made.astimezone(zoneinfo.ZoneInfo(document.packet["zone"]))
    shown = squeezed(f"printed {format_date(local.date(), format='long', locale='en_US')}")
    assert [n for n, page in enumerate(poppler.texts(document.path), 1) if shown not in squeezed(page)] == []


def test_filed_by_patient_and_procedure(packet: Packet):
    """ASC-1: the list of documents names the record number, and for each file what kind of page it is and its id."""
    assert packet["patient"]["record_number"]
    ids = [entry["id"] for entry in packet["documents"]]
    assert len(ids) == len(set(ids)) > 0
    for entry in packet["documents"]:
        both = entry["page"] == "both-eyes"  # a calendar of two cases is filed under both, and there is one only
        assert entry["id"].endswith(entry["page"] if both else f"{packet['moment']}-{entry['page']}")


def test_only_what_identifies(packet: Packet):
    """GDPR-3: of the person only name, birth date and record number leave the record."""
    assert set(packet["patient"]) == {"name", "birth_date", "record_number"}
    assert not re.search(r"[\w.]+@[\w.]+|\b\d{3}-\d{2}-\d{4}\b", json.dumps(packet.data))


def test_no_forms(document: Document):
    """GDPR-2, SIG-7, SIG-10: no form fields that could be filled or ticked beforehand, no script, no signature already
    there, not linearised, not encrypted: a signature can be added later without changing a byte of the page."""
    with pikepdf.open(document.path) as pdf:
        assert forms(pdf) == [] and not pdf.is_linearized and not pdf.is_encrypted


def forms(pdf):
    names = {"/AcroForm", "/OpenAction", "/AA"} & set(pdf.Root.keys())
    scripts = [str(item.get("/S")) for item in pdf.objects if isinstance(item, pikepdf.Dictionary) and "/JS" in item]
    fields = [str(item.get("/FT")) for item in pdf.objects if isinstance(item, pikepdf.Dictionary) and "/FT" in item]
    return [*sorted(names), *scripts, *fields]


def test_language_on_the_desk_sheet(desk: Document):
    """ASC-8: the staff see in which language the patient reads, and that an interpreter is booked."""
    if desk.packet["moment"] == "before":
        text = wording.text(desk)
        assert re.search(r"Language .*English", text)
        if desk.packet.fact("interpreter") == "yes" and not desk.packet["withheld"]:
            assert re.search(r"Interpreter for \w+", text)


def test_two_copies(desk: Document):
    """BGB-6, SIG-6: the consent is printed twice, one to take home and one for the record."""
    if desk.packet["moment"] == "before" and not desk.packet["withheld"]:
        assert re.search(r"Consent packet 2 copies One for the patient to take home, one signed", wording.text(desk))


def test_take_home_pages(packet: Packet):
    """ASC-3: after the treatment there are pages to take home, and the desk sheet says that the patient takes them."""
    if packet["moment"] == "after":
        pages = {entry["page"] for entry in packet["documents"]}
        assert {"aftercare", "desk"} <= pages
        desk = next(d for d in packets.documents() if d.packet.path == packet.path and d.page == "desk")
        assert re.search(r"Aftercare packet .*takes it home", wording.text(desk))


def uncontactable(text: str):
    """Numbers, when each answers, when to call, where to go if nobody does."""
    wanted = {
        "numbers": [r"\d{3}-\d{4}.*\d{3}-\d{4}"],
        "hours": [r"opens|Monday to Friday|day and night"],
        "out of hours": [r"all other hours|day and night|out of hours"],
        "when to call": [r"call us at once"],
        "if nobody answers": [r"no answer\?"],
    }
    return wording.missing(text, wanted)


def test_prescriptions_and_contact(aftercare: Document):
    """ASC-4: each drug with how much, how long and its last day; whom to call and when, see `uncontactable`."""
    text = wording.text(aftercare)
    assert uncontactable(text) == []
    for name in {dose["name"] for dose in aftercare.packet["doses"]}:
        assert re.search(rf"{re.escape(name)}: 1 drop each time, .*throw the bottle away", text), name


def test_follow_up(aftercare: Document):
    """ASC-5: each visit with weekday, day and year."""
    text = squeezed(wording.text(aftercare))
    missing = [visit["date"] for visit in aftercare.packet["visits"]
               if squeezed(long_date(datetime.date.fromisoformat(visit["date"]))) not in text]
    assert missing == [] and aftercare.packet["visits"]


def test_faults_are_noticed(sound_consent):
    """Not vacuous: a page without its draft line, another title or language, a form field, numbers left out."""
    assert undrafted(["Draft. Not for patients, not to be signed.", "Page 2"]) == ["page 2 is not marked as a draft"]
    with pikepdf.open(sound_consent.path) as pdf:
        xmp, packet = metadata(pdf), sound_consent.packet
        assert unlike_metadata("Another", xmp, "en-US", "en-US", packet)
        assert unlike_metadata(value(xmp, "dc:title"), xmp, "en-US", "de", packet)
        assert forms(pdf) == []
        pdf.Root.AcroForm = pdf.make_indirect(pikepdf.Dictionary(Fields=pikepdf.Array()))
        assert forms(pdf) == ["/AcroForm"]
        pdf.make_indirect(pikepdf.Dictionary(FT=pikepdf.Name.Btn, V=pikepdf.Name.Yes))
        assert len(forms(pdf)) == 2
    sound = "Call us at once. Monday to Friday 555-0100. At all other hours 555-0199. No answer? Go to the hospital."
    assert uncontactable(sound) == []
    for words in ("at once", "555-0199", "all other hours", "No answer?"):
        assert uncontactable(sound.replace(words, "")) != []


def test_missing_table_is_an_error(monkeypatch, tmp_path):
    """Fail closed: without the list of runs the checks of withheld pages stop."""
    monkeypatch.setenv(packets.FOLDER, str(tmp_path))
    with pytest.raises(packets.Missing):
        runs()
