"""Pages from right to left. Order of text: Unicode Standard Annex 9; file structure: PDF/UA-1, PDF/A-3a.

What a mirrored page looks like to its reader is common practice, no source: the first column is the rightmost.
"""

import itertools

import files
import languages
import ink
import poppler
import pytest
import test_archive
import test_contrast
import test_tags

pytestmark = pytest.mark.xdist_group("ar")

#: All of them hold the phones; the form that is marked holds none.
PAGES = ("*-consent.pdf", "*-aftercare.pdf", "*-withdrawal.pdf", "*-after-letter.pdf")
FORM = "*-outcome.pdf"


def _patient_pages():
    return list(itertools.chain.from_iterable(languages.files("ar", pattern) for pattern in PAGES))


def _all_pages():
    return [*_patient_pages(), *languages.files("ar", FORM)]


def _words(path):
    return [word for sheet in poppler.sheets(path) for word in sheet.words]


# Two checks read words from drawn glyphs from left to right, which is no order in which Arabic is read.
READ_FROM_THE_LEFT = (test_tags.titled, test_tags.running_lines)
STRUCTURE = [check for check in (*test_tags.CHECKS, *test_archive.CHECKS) if check not in READ_FROM_THE_LEFT]


@pytest.mark.parametrize("check", STRUCTURE, ids=lambda check: check.__name__)
def test_structure(check):
    """PDF/UA-1 and PDF/A-3a hold for fonts of the practice's own, too: UA-1, UA-3 to UA-15, UA-17, UA-19, PDFA-1 to PDFA-6, PDFA-8."""
    for page in ("aftercare", "letter", "outcome"):
        for path in languages.files("ar", f"EX-01-r1-after-{page}.pdf"):
            assert check(files.opened(path)) == [], path.name


def test_language():
    """UA-6, WCAG-6 (SC 3.1.1)."""
    for path in _all_pages():
        assert str(files.opened(path).Root.Lang) == "ar", path.name


@pytest.mark.parametrize("check", [test_contrast.pale_text, test_contrast.pale_shapes], ids=lambda check: check.__name__)
def test_contrast_of_pages(check):
    """WCAG-2 (SC 1.4.6): 7:1 for text, 3:1 for lines."""
    for path in _all_pages():
        assert [found for page in ink.pages(path) for found in check(page)] == [], path.name


def test_nothing_leaves_the_page(edge=34):
    """LP-8, to the sides: 12 mm. The boxes poppler draws around Arabic words are higher than the words."""
    for path in _all_pages():
        for sheet in poppler.sheets(path):
            beyond = [word.text for word in sheet.words if word.left < edge or word.right > sheet.width - edge]
            assert beyond == [], path.name


@pytest.mark.parametrize("number", ["555-0100", "555-0199"])
def test_phone_numbers_read_forwards(number):
    """UAX 9, W2: a number after Arabic letters turns around at its hyphen unless it is set apart."""
    for path in _patient_pages():
        words = {word.text.strip("\u2066\u2067\u2068\u2069.,;:،") for word in _words(path)}
        assert number in words, path.name
        assert "-".join(reversed(number.split("-"))) not in words, path.name


def test_a_drug_and_its_strength_read_as_on_the_bottle():
    """The strength stands to the right of the name, as Latin letters run."""
    for path in languages.files("ar", "EX-01*-aftercare.pdf"):
        beside = []
        for sheet in poppler.sheets(path):
            names = [word for word in sheet.words if "acetate" in word.text]
            strengths = [word for word in sheet.words if word.text.strip("\u2066\u2069:") == "1%"]
            beside += [(n, s) for n in names for s in strengths if abs(n.middle - s.middle) < 3]
        assert beside, path.name
        assert all(name.right <= strength.left + 1 for name, strength in beside), path.name


def test_the_calendar_begins_at_the_right():
    """The column of dates is the rightmost: the year in its head stands right of every name of a drug in the heads."""
    for path in languages.files("ar", "EX-01*-aftercare.pdf"):
        seen = 0
        for sheet in poppler.sheets(path):
            heads = [word for word in sheet.words if word.text == "2026" and word.left > sheet.width * 0.75]
            for head in heads:
                drugs = [w for w in sheet.words if w.text in ("dorzolamide", "prednisolone") and abs(w.top - head.top) < 80]
                if drugs:
                    seen += 1
                    assert all(drug.right < head.left for drug in drugs), path.name
        assert seen > 0, path.name


def test_the_clinic_gets_the_page_in_its_own_language():
    """ACA-5: the second file is in English, with the same document id."""
    for path in languages.files("ar", "*-clinic.pdf"):
        assert str(files.opened(path).Root.Lang).startswith("en"), path.name
        first = path.with_name(path.name.replace("-clinic", ""))
        code = path.name.split("-r1-")[0]
        identity = f"{code}-{'before' if 'before' in path.name else 'after'}"
        for file in (path, first):
            assert any(identity in word.text for word in _words(file)), file.name
