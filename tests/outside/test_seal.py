"""A page proves itself: what it was made from goes along in its PDF, the code on its first page names it, and `verify` tells
whether a file is what was issued, also when somebody signed it since."""

import datetime
import json
import os
import subprocess

import pikepdf
import pytest
import rfc8785
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.sign import fields, signers

import files
import packets
import seal
import tags
from packets import Document
from test_code import every

ISSUED = "2026-08-07T16:00:00Z"


def test_data_go_along(patient_document: Document):
    """One file in each page for a patient: related as its source, JSON in canonical form (RFC 8785)."""
    pdf = files.opened(patient_document.path)
    assert list(pdf.attachments) == [seal.NAME]
    (described,) = [item for item in pdf.objects if isinstance(item, pikepdf.Dictionary) and "/EF" in item]
    assert (str(described.AFRelationship), str(described.EF.F.Subtype)) == ("/Source", "/application/json")
    data = seal.carried(pdf)
    assert rfc8785.dumps(json.loads(data)) == data


def test_nothing_goes_along_with_the_staff(staff_document: Document):
    """Sheets and papers of the staff hold findings: nothing of them goes along."""
    assert not files.opened(staff_document.path).attachments


def test_only_what_the_page_says_goes_along(patient_document: Document):
    """No finding, answer or fact of the record; the words are those of the document that its layout received."""
    data = json.loads(seal.carried(files.opened(patient_document.path)))
    assert set(data) == {"version", "program", "document"}
    text = json.dumps(data, ensure_ascii=False)
    assert [row["id"] for row in patient_document.packet["findings"] if json.dumps(row["id"]) in text] == []


def test_code_names_the_data(patient_document: Document):
    """A reader of codes finds it once, on the first page: id and version as in the foot, and the hash of what goes along."""
    found = [(at, match) for at, page in enumerate(every(patient_document)) for code in page if (match := seal.CODE.fullmatch(code))]
    assert [at for at, _ in found] == [0]
    code = found[0][1]
    document = json.loads(seal.carried(files.opened(patient_document.path)))["document"]
    assert (code["id"], int(code["revision"])) == (document["id"], document["revision"])
    assert document["footer"]["document"].startswith(code["id"])
    assert code["hash"] == seal.fingerprint(seal.carried(files.opened(patient_document.path)))


def test_code_is_told_to_who_does_not_see_it(patient_document: Document):
    """A figure whose words name the document."""
    document = json.loads(seal.carried(files.opened(patient_document.path)))["document"]
    alts = [figure.alt or "" for figure in tags.read(files.opened(patient_document.path)).elements("Figure")]
    assert [alt for alt in alts if document["id"] in alt] == [document["seal"]["alt"]]


@pytest.fixture(scope="module")
def issued(tmp_path_factory):
    """A consent that was issued into a register: folder, register, file."""
    folder = tmp_path_factory.mktemp("seal")
    register = folder / "register.sqlite3"
    practice, case = packets.root() / "practice", packets.root() / "ring-implant" / "case.toml"
    program = os.environ["VITREOLEAF"]
    subprocess.run([program, "people", "-p", practice, "--register", register, "--role", "surgeon", "Dr. Ada Sample"],
                   input=b"correct horse battery\n", check=True, capture_output=True)
    subprocess.run([program, "print", case, "-p", practice, "-m", "before", "--issued", ISSUED, "--issued-anyway",
                    "--register", register, "--by", "Dr. Ada Sample", "--out", folder], check=True, capture_output=True)
    return register, folder / "EX-01-r1-before-consent.pdf"


def verified(register, path):
    done = subprocess.run([os.environ["VITREOLEAF"], "verify", path, "--register", register, "--format", "json"], capture_output=True)
    return done.returncode, json.loads(done.stdout)


def signed(path, target, box=None):
    """The same file, signed with a key of its own by pyHanko (ISO 32000-1, 12.8), as another program would."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "Invented")])
    day = datetime.datetime(2026, 1, 1)
    built = x509.CertificateBuilder(name, name, key.public_key(), 1, day, day + datetime.timedelta(3650))
    usage = x509.KeyUsage(True, True, False, False, False, False, False, False, False)
    certificate = built.add_extension(usage, critical=True).sign(key, hashes.SHA256())
    (target.parent / "key.pem").write_bytes(key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()))
    (target.parent / "certificate.pem").write_bytes(certificate.public_bytes(serialization.Encoding.PEM))
    signer = signers.SimpleSigner.load(target.parent / "key.pem", target.parent / "certificate.pem")
    with path.open("rb") as source, target.open("w+b") as made:
        writer = IncrementalPdfFileWriter(source)
        fields.append_signature_field(writer, fields.SigFieldSpec("Signature", box=box))
        signers.PdfSigner(signers.PdfSignatureMetadata(field_name="Signature"), signer).sign_pdf(writer, output=made)


def test_what_was_issued_is_whole(issued):
    code, found = verified(*issued)
    assert (code, found["verdict"], found["replaced"]) == (0, "whole", None)


def test_signature_appended_later_is_no_change(issued, tmp_path):
    """The bytes that were issued stand in front of it; the field of the signature takes no place on the page."""
    register, path = issued
    signed(path, tmp_path / "signed.pdf")
    code, found = verified(register, tmp_path / "signed.pdf")
    assert (code, found["verdict"]) == (0, "appended")
    assert found["appended"]["redraws"] is False and found["appended"]["over_pages"] == 0
    assert found["appended"]["bytes"] == (tmp_path / "signed.pdf").stat().st_size - path.stat().st_size


def test_signature_that_is_seen_is_told(issued, tmp_path):
    register, path = issued
    signed(path, tmp_path / "signed.pdf", box=(100, 100, 200, 150))
    _, found = verified(register, tmp_path / "signed.pdf")
    assert (found["appended"]["redraws"], found["appended"]["over_pages"]) == (False, 1)


def test_file_written_anew_is_changed(issued, tmp_path):
    """Not vacuous: another program that writes the same pages leaves other bytes, and other data are told."""
    register, path = issued
    with pikepdf.open(path) as pdf:
        pdf.save(tmp_path / "anew.pdf")
        data = seal.carried(pdf).replace(b"right eye", b"left eye")
        pdf.attachments[seal.NAME] = pikepdf.AttachedFileSpec(pdf, data, filename=seal.NAME)
        pdf.save(tmp_path / "altered.pdf")
    code, found = verified(register, tmp_path / "anew.pdf")
    assert (code, found["verdict"], found["altered"]) == (1, "changed", [])
    _, found = verified(register, tmp_path / "altered.pdf")
    assert found["verdict"] == "changed" and found["altered"]
