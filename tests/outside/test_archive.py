"""PDF/A-3 at level A (ISO 19005-3:2012): a page printed today can be read when the record is opened in ten years."""

import datetime
import hashlib
import re

import pikepdf
import pytest

import files
import seal
from packets import Document
from xmp import NAMES, metadata, qualified, value


def identified(pdf):
    """PDFA-1 (6.6.4): XMP names part 3, level A."""
    xmp = metadata(pdf)
    said = value(xmp, "pdfaid:part"), value(xmp, "pdfaid:conformance")
    return [] if said == ("3", "A") else [f"XMP says PDF/A {said}"]


def foreign_names_described(pdf):
    """PDFA-2 (6.6.2.3): the schema of pdfuaid, foreign to PDF/A, is described in the file."""
    xmp = metadata(pdf)
    described = {node.text for node in xmp.iter(qualified("pdfaSchema:namespaceURI"))} if xmp is not None else set()
    return [] if NAMES["pdfuaid"] in described else ["no extension schema describes pdfuaid"]


def colour_defined(pdf):
    """PDFA-3 (6.2.3): an output intent with a real RGB profile inside."""
    for intent in pdf.Root.get("/OutputIntents", []):
        profile = intent.get("/DestOutputProfile")
        if intent.get("/S") == "/GTS_PDFA1" and profile is not None:
            data = profile.read_bytes()
            if data[36:40] == b"acsp" and data[16:20] == b"RGB " and int(profile.N) == 3:
                return []
    return ["no output intent GTS_PDFA1 with an RGB profile"]


FORBIDDEN_ACTIONS = {
    "/JavaScript", "/Launch", "/Sound", "/Movie", "/ResetForm", "/ImportData", "/Hide", "/SetOCGState", "/Rendition",
    "/Trans", "/GoTo3DView", "/SubmitForm", "/URI", "/GoToR",
}
"""Actions PDF/A-3 forbids, and those that would lead out of the page: nobody follows a link on paper."""

FORBIDDEN_KEYS = {"/JS", "/AA", "/RichMediaContent", "/3DD", "/Sound", "/Movie", "/XFA", "/PS"}


def nothing_active(pdf):
    """PDFA-5 (6.1.2, 6.5, 6.6.1) and UA-19: no script, sound, film, outside content or encryption."""
    found = ["the file is encrypted"] if pdf.is_encrypted else []
    for item in pdf.objects:
        if isinstance(item, (pikepdf.Dictionary, pikepdf.Stream)):
            keys = set(item.keys())
            found += [f"the key {key}" for key in keys & FORBIDDEN_KEYS]
            if str(item.get("/S", "")) in FORBIDDEN_ACTIONS and not keys & {"/P", "/K"}:
                found.append(f"the action {item.S}")
            if isinstance(item, pikepdf.Stream) and keys & {"/F", "/FFilter"}:
                found.append("a stream outside the file")
            if isinstance(item, pikepdf.Stream) and "/LZWDecode" in str(item.get("/Filter", "")):
                found.append("LZW compression")
    names = pdf.Root.get("/Names", {})
    return found + (["document scripts"] if "/JavaScript" in names else [])


def attachments_described(pdf):
    """PDFA-6 (6.8): each attached file has its name, relationship, kind and date, and the catalog lists it."""
    found, listed = [], {item.objgen for item in pdf.Root.get("/AF", [])}
    for item in pdf.objects:
        if not isinstance(item, pikepdf.Dictionary) or "/EF" not in item:
            continue
        stream = item.EF.get("/F")
        if not item.get("/F") or not item.get("/UF"):
            found.append("an attachment without a name")
        if str(item.get("/AFRelationship", "")) not in ("/Source", "/Data", "/Alternative", "/Supplement", "/Unspecified"):
            found.append("an attachment without a relationship")
        if stream is None or "/" not in str(stream.get("/Subtype", ""))[1:]:
            found.append("an attachment without a MIME type")
        if stream is None or "/ModDate" not in stream.get("/Params", {}):
            found.append("an attachment without a date")
        if item.objgen not in listed:
            found.append("an attachment that the catalog does not list")
    return found


def attachments_equal(pdf, folder):
    """PDFA-7: an attached file is, byte for byte, the file that lies beside the pages. What the pages were made from lies
    nowhere else; `test_seal` reads it."""
    found = []
    for name, attached in pdf.attachments.items():
        if name == seal.NAME:
            continue
        beside = folder / name
        if not beside.is_file():
            found.append(f"the attachment {name} does not lie beside the pages")
        elif hashlib.sha256(beside.read_bytes()).digest() != hashlib.sha256(attached.get_file().read_bytes()).digest():
            found.append(f"the attachment {name} differs from the file beside the pages")
    return found


def _moment(text: str) -> datetime.datetime:
    """A PDF date (D:YYYYMMDDHHmmSS and a zone) or an ISO 8601 one, as an instant."""
    if text.startswith("D:"):
        digits, zone = re.match(r"D:(\d{14})(.*)", text).groups()
        zone = zone.replace("'", "").replace("Z0000", "Z") or "Z"
        return datetime.datetime.strptime(digits + zone, "%Y%m%d%H%M%S%z")
    return datetime.datetime.fromisoformat(text)


INFO = {
    "/Title": "dc:title", "/Creator": "xmp:CreatorTool", "/Producer": "pdf:Producer",
    "/CreationDate": "xmp:CreateDate", "/ModDate": "xmp:ModifyDate",
}


def information_agrees(pdf):
    """PDFA-8 (6.6.3): what both the information dictionary and XMP say is the same."""
    xmp, found = metadata(pdf), []
    for key, name in INFO.items():
        if key not in pdf.docinfo:
            continue
        plain, rich = str(pdf.docinfo[key]), value(xmp, name)
        same = rich is not None and (_moment(plain) == _moment(rich) if key.endswith("Date") else plain == rich)
        if not same:
            found.append(f"{key} says {plain!r}, XMP says {rich!r}")
    return found


CHECKS = [identified, foreign_names_described, colour_defined, nothing_active, attachments_described, information_agrees]


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.__name__)
def test_pdf_a(document: Document, check):
    """PDFA-1 to PDFA-3, PDFA-5, PDFA-6, PDFA-8: each function above names its rule. PDFA-4 (fonts) is `fonts` of test_tags."""
    assert check(files.opened(document.path)) == []


def test_attachments_equal(document: Document):
    """PDFA-7, see `attachments_equal`."""
    assert attachments_equal(files.opened(document.path), document.path.parent) == []


# The checks of the checks.


def _xmp(pdf, old: bytes, new: bytes):
    data = pdf.Root.Metadata.read_bytes()
    assert old in data
    pdf.Root.Metadata.write(data.replace(old, new))


def _attach(pdf):
    pdf.attachments["calendar.ics"] = pikepdf.AttachedFileSpec(pdf, b"BEGIN:VCALENDAR", filename="calendar.ics")


DAMAGE = {
    identified: lambda pdf: _xmp(pdf, b"<pdfaid:conformance>A", b"<pdfaid:conformance>B"),
    foreign_names_described: lambda pdf: _xmp(pdf, b"<pdfaSchema:namespaceURI>http://www.aiim.org/pdfua/", b"<pdfaSchema:namespaceURI>http://a/"),
    colour_defined: lambda pdf: pdf.Root.__delitem__("/OutputIntents"),
    nothing_active: lambda pdf: pdf.Root.__setitem__(
        "/OpenAction", pdf.make_indirect(pikepdf.Dictionary(S=pikepdf.Name.JavaScript, JS="app.alert(1)"))
    ),
    attachments_described: _attach,
    information_agrees: lambda pdf: pdf.docinfo.__setitem__("/Title", "Another title"),
}


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.__name__)
def test_damage_is_noticed(check, sound_consent):
    """Not vacuous: each check fails on a copy that is wrong in its point."""
    with pikepdf.open(sound_consent.path) as pdf:
        DAMAGE[check](pdf)
        assert check(pdf) != []


def test_changed_attachment_is_noticed(sound_consent, tmp_path):
    """Not vacuous: PDFA-7."""
    with pikepdf.open(sound_consent.path) as pdf:
        _attach(pdf)
        assert attachments_equal(pdf, tmp_path) != []
        (tmp_path / "calendar.ics").write_bytes(b"BEGIN:VCALENDAR ")
        assert attachments_equal(pdf, tmp_path) != []
        (tmp_path / "calendar.ics").write_bytes(b"BEGIN:VCALENDAR")
        assert attachments_equal(pdf, tmp_path) == []
