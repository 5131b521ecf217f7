"""What stands on every page: who, which eye, which document, which page of how many; and where a name must not stand."""

import datetime
import hashlib
import re

import pikepdf
from babel.dates import format_date

import poppler
import tags
from packets import NAME, Document, Packet
from poppler import squeezed


def identity(document: Document) -> dict[str, str]:
    """What each page must show, by what it is."""
    packet = document.packet
    patient = packet["patient"]
    born = datetime.date.fromisoformat(patient["birth_date"])
    both = document.page == "both-eyes"
    listed = [entry["id"] for entry in packet["documents"] if entry["page"] == document.page]
    shown = {
        "name": patient["name"],
        "birth date": format_date(born, format="long", locale="en_US"),
        "record number": patient["record_number"],
        "eye": "both eyes" if both else packet.eye,
        "document id": listed[0] if listed else document.path.stem.replace("-suitability", "-before-suitability"),
        "version": f"version {packet['revision']}",
    }
    if packet["banner"]:
        shown["banner"] = packet["banner"]
    return shown


def unidentified(pages: list[str], shown: dict[str, str]):
    """SITE-3 (Joint Commission NPSG.01.01.01), SITE-1, SITE-11, SIG-1: every page, also those of the calendar."""
    return [
        f"page {number} does not show the {what}"
        for number, page in enumerate(pages, 1)
        for what, words in shown.items()
        if squeezed(words) not in squeezed(page)
    ]


def unnumbered(pages: list[str]):
    """SIG-2: "Page x of y" once on each page, x counting up, y the number of pages; those of an annex apart, as "A1 of A2"."""
    places = [re.findall(r"\bPage (A?\d+) of (A?\d+)\b", tags.plain(page)) for page in pages]
    annex = sum(any(number.startswith("A") for number, _ in place) for place in places)
    body = len(pages) - annex
    due = [(f"{number}", f"{body}") for number in range(1, body + 1)]
    due += [(f"A{number}", f"A{annex}") for number in range(1, annex + 1)]
    return [f"page {at} says {place}, not {right}" for at, (place, right) in enumerate(zip(places, due), 1) if place != [right]]


def test_every_page_is_identified(document: Document):
    """SITE-1, SITE-3, SITE-11, SIG-1, and the banner as SIG-11 asks of pages not for use, see `unidentified`."""
    assert unidentified(poppler.texts(document.path), identity(document)) == []


def test_every_page_is_numbered(document: Document):
    """SIG-2, see `unnumbered`."""
    assert unnumbered(poppler.texts(document.path)) == []


def test_number_stands_in_one_place(document: Document):
    """LP-12: the page number is at the same height over the lower edge of every page, also of one that lies on its side."""
    heights = {
        round(sheet.height - line.middle) for sheet in poppler.sheets(document.path) for line in poppler.lines(sheet)
        if re.search(r"Page A?\d+ of A?\d+$", line.text)
    }
    assert max(heights) - min(heights) <= 1


def secrets(patient: dict) -> list[str]:
    """Parts of an identity that must not leave the pages."""
    parts = [part for part in re.split(r"[\s,]+", patient["name"]) if len(part) > 3]
    return [patient["name"], *parts, patient["record_number"], patient["birth_date"], patient["birth_date"].replace("-", "")]


def leaks(text: str, patient: dict):
    return [
        f"a secret of {len(secret)} characters"
        for secret in secrets(patient)
        if re.search(rf"(?<![^\W_]){re.escape(secret)}(?![^\W_])", text, re.I)
    ]


def test_names_stay_on_the_pages(document: Document):
    """HIP-2 (45 CFR 164.502(b), minimum necessary): not in the XMP packet, the information dictionary or names of attachments."""
    patient = document.packet["patient"]
    with pikepdf.open(document.path) as pdf:
        hidden = [pdf.Root.Metadata.read_bytes().decode("utf-8"), *(str(v) for v in pdf.docinfo.values()), *pdf.attachments]
        hidden += [str(item) for item in pdf.trailer.get("/ID", [])]
    assert leaks("\n".join(hidden), patient) == []


def test_file_names(packet: Packet):
    """HIP-2: file names say case code, revision, moment and page, and nothing of the patient."""
    for path in packet.path.parent.iterdir():
        assert leaks(path.name, packet["patient"]) == []
        assert leaks(path.parent.name, packet["patient"]) == []
    name = NAME.fullmatch(packet.path.name)
    assert name and (int(name["revision"]), name["moment"]) == (packet["revision"], packet["moment"])


def unlisted(packet: Packet):
    """SIG-9: the lists of documents and calendars hold every file in the folder with its SHA-256, and nothing else."""
    listed = {entry["file"]: entry["sha256"] for entry in packet["documents"] + packet["calendars"]}
    there = {path.name for end in ("pdf", "ics") for path in packet.path.parent.glob(f"{packet.stem}-*.{end}")}
    found = [f"{name} is not listed" for name in there - listed.keys()]
    for name, digest in listed.items():
        path = packet.path.with_name(name)
        if not path.is_file():
            found.append(f"{name} is listed and missing")
        elif hashlib.sha256(path.read_bytes()).hexdigest() != digest:
            found.append(f"{name} is not the file that was listed")
    return found


def test_documents_are_the_listed_ones(packet: Packet):
    """SIG-9, see `unlisted`."""
    assert unlisted(packet) == []


def test_sound_hash():
    """SIG-9: the yardstick itself, SHA-256 of nothing (FIPS 180-4)."""
    assert hashlib.sha256(b"").hexdigest().startswith("e3b0c442") and hashlib.sha256(b"").hexdigest().endswith("b855")


def test_faults_are_noticed(sound_consent, tmp_path):
    """Not vacuous: a page without a name, a wrong count, a name in a title, a changed file."""
    pages, shown = poppler.texts(sound_consent.path), identity(sound_consent)
    for words in shown.values():
        assert unidentified([*pages, squeezed(pages[0]).replace(squeezed(words), "")], shown) != []
    assert unnumbered(pages[:-1]) != [] and unnumbered([*pages[:-1], "Page 1 of 1"]) != []
    patient = {"name": "Maria Example", "record_number": "MR-1", "birth_date": "1955-03-03"}
    assert leaks("consent of maria example", patient) and leaks("mr-1.pdf", patient) and not leaks("alpha-r1.pdf", patient)
    for path in sound_consent.packet.path.parent.iterdir():
        (tmp_path / path.name).write_bytes(path.read_bytes())
    copy = Packet(tmp_path / sound_consent.packet.path.name)
    assert unlisted(copy) == []
    (tmp_path / sound_consent.path.name).write_bytes(b"%PDF-1.7 changed")
    assert unlisted(copy) != []
