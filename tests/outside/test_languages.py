"""The look and the structure of the patient's pages in every language, in standard and in large print, for a patient with a
name of 120 characters: what `test_print`, `test_contrast`, `test_tags` and `test_archive` ask of the English pages.

Arabic has its own checks in `test_right_to_left`, where drawn glyphs do not stand in the order in which they are read.
"""

import functools
import tomllib

import pikepdf
import pytest

import files
import ink
import languages
import poppler
import test_archive
import test_contrast
import test_print
import test_record
import test_tags

LANGUAGES = ("en-GB", "es-US", "fr", "de")
#: ring-implant is printed in standard size, multifocal-glaucoma in large print.
LARGE = "EX-03"
PAGES = ("*-consent.pdf", "*-aftercare.pdf")
#: Papers around the treatment in the language of the patient, and the letter in that of its reader.
PAPERS = ("*-outcome.pdf", "*-withdrawal.pdf", "*-after-letter.pdf")
DRAWN = [test_contrast.pale_text, test_contrast.pale_shapes]
LAID_OUT = [test_print.outside, test_print.overlapping, test_print.split_words]
STRUCTURE = [*test_tags.CHECKS, *test_archive.CHECKS]


@functools.cache
def pages(language: str):
    return [path for pattern in PAGES for path in languages.files(language, pattern)]


@functools.cache
def papers(language: str):
    return [path for pattern in PAPERS for path in languages.files(language, pattern)]


@functools.cache
def all_pages(language: str):
    """Those of surgeon and desk, the papers and the clinic's copies besides."""
    return languages.files(language, "*.pdf")


def _faults(paths, check, of) -> dict:
    found = {(path.name, n): check(page) for path in paths for n, page in enumerate(of(path), 1)}
    return {place: faults for place, faults in found.items() if faults}


@pytest.mark.parametrize("language", LANGUAGES)
def test_both_sizes_and_moments_are_there(language):
    """Two patients, before and after: four page sets."""
    assert len(pages(language)) == 4
    assert sum(path.name.startswith(LARGE) for path in pages(language)) == 2


@pytest.mark.parametrize("check", LAID_OUT, ids=lambda check: check.__name__)
@pytest.mark.parametrize("language", LANGUAGES)
def test_layout(language, check):
    """LP-8, LP-9: nothing clipped, nothing printed over another, no word divided; poppler's boxes of the words."""
    assert _faults(all_pages(language), check, poppler.sheets) == {}


@pytest.mark.parametrize("check", DRAWN, ids=lambda check: check.__name__)
@pytest.mark.parametrize("language", LANGUAGES)
def test_contrast(language, check):
    """WCAG-2 (SC 1.4.6): 7:1 for text; WCAG-4 (SC 1.4.11): 3:1 for lines."""
    assert _faults(all_pages(language), check, ink.pages) == {}


@pytest.mark.parametrize("language", (*LANGUAGES, "ar"))
def test_size(language):
    """LP-1, LP-2, LP-3: 12 pt at least, in large print 18 pt everywhere."""
    for path in pages(language):
        least = test_print.LARGE if path.name.startswith(LARGE) else test_print.SMALLEST["consent"]
        assert [hit for page in ink.pages(path) for hit in test_print.small_text(page, least)] == [], path.name


@pytest.mark.parametrize("language", LANGUAGES)
def test_faces(language):
    """LP-4, LP-6: one family, whatever letters a name brings along."""
    for path in pages(language):
        assert test_print.unclear_faces(ink.pages(path)) == [], path.name


@pytest.mark.parametrize("language", (*LANGUAGES, "ar"))
def test_papers(language):
    """Of each patient (three read Arabic, two any other language) the form before and after, the slip before, the letter after.
    The letter is one page in every language."""
    assert len(papers(language)) == (12 if language == "ar" else 8)
    for path in languages.files(language, PAPERS[-1]):
        assert len(poppler.texts(path)) == 1, path.name


@pytest.mark.parametrize("check", STRUCTURE, ids=lambda check: check.__name__)
@pytest.mark.parametrize("language", LANGUAGES)
def test_structure(language, check):
    """UA-1 to UA-17, UA-19, PDFA-1 to PDFA-6, PDFA-8, in each language."""
    for path in pages(language) + papers(language):
        assert check(files.opened(path)) == [], path.name


@pytest.mark.parametrize("language", LANGUAGES)
def test_language(language):
    """UA-6, WCAG-6 (SC 3.1.1)."""
    for path in pages(language) + papers(language):
        assert str(files.opened(path).Root.Lang) == language, path.name


def languages_of_parts(pdf) -> set[str]:
    """The languages that the marked content of page 1 and the elements of the file name (ISO 32000-1, 14.9.2.3)."""
    content = (
        operands[1] for operands, operator in pikepdf.parse_content_stream(pdf.pages[0])
        if str(operator) == "BDC" and isinstance(operands[1], pikepdf.Dictionary)
    )
    elements = (one for one in pdf.objects if isinstance(one, pikepdf.Dictionary) and "/S" in one)
    return {str(part["/Lang"]) for part in (*content, *elements) if "/Lang" in part}


@pytest.mark.parametrize("language", ("es-US", "fr", "de", "ar"))
def test_language_of_parts(language):
    """WCAG-6 (SC 3.1.2): the banner in the clinic's language says so on a page in the patient's."""
    for path in pages(language):
        assert languages_of_parts(files.opened(path)) == {language, "en-US"}, path.name


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_whole_name_stands_on_every_page(language):
    """SITE-3 (two identifiers; Joint Commission, NPSG.01.01.01): the name of 120 characters is cut nowhere, on no page of
    anybody. Lines may part it, so spaces do not count."""
    name = (languages.practice() / language / "ring-implant.toml").read_text("utf-8").split('name = "', 1)[1].split('"')[0]
    assert len(name) == 120
    for path in all_pages(language):
        for n, text in enumerate(poppler.texts(path), 1):
            assert "".join(name.split()) in "".join(text.split()), (path.name, n)


def own_banner(language: str) -> str:
    """What the language itself calls a draft of a translation."""
    words = tomllib.loads((languages.LOCALES / language / "words.toml").read_text(encoding="utf-8"))
    return words["page"]["draft_translation"]


@pytest.mark.parametrize("language", ("es-US", "fr", "de", "ar"))
def test_every_page_of_an_unreviewed_translation_says_so(language):
    """ACA-1 (45 CFR 92.201(c)(3)): in the patient's language and in the clinic's. Drawn glyphs do not give Arabic in the
    order of reading, so there the English words alone are looked for."""
    for path in pages(language):
        assert test_record.undrafted(poppler.texts(path)) == [], path.name
        if language != "ar":
            told = poppler.squeezed(own_banner(language))
            assert all(told in poppler.squeezed(text) for text in poppler.texts(path)), path.name


def test_a_variant_of_the_source_is_no_translation():
    """Not vacuous: the pages in UK English are no drafts."""
    for path in pages("en-GB"):
        assert len(test_record.undrafted(poppler.texts(path))) == len(poppler.texts(path)), path.name
