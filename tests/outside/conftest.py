"""Gives each check one generated file at a time. No packets, or none of a kind, is an error and never a silent pass."""

import shutil

import pytest

import languages
import packets


def _choices():
    return {
        "document": packets.pages(*packets.PATIENT_PAGES, *packets.STAFF_PAGES),
        "patient_document": packets.pages(*packets.PATIENT_PAGES),
        "staff_document": packets.pages(*packets.STAFF_PAGES),
        "consent": packets.pages("consent"),
        "aftercare": packets.pages("aftercare"),
        "surgeon": packets.pages("surgeon"),
        "desk": packets.pages("desk"),
        "packet": list(packets.packets()),
        "both_eyes": list(packets.both_eyes()),
        "calendar": packets.calendars(),
    }


def _name(value) -> str:
    path = value[1] if isinstance(value, tuple) else value.path
    return path.stem


def pytest_configure(config):
    try:
        packets.packets()
    except packets.Missing as problem:
        pytest.exit(str(problem), returncode=2)
    for tool in ("pdftotext", "pdffonts"):
        if shutil.which(tool) is None:
            pytest.exit(f"{tool} is missing: install poppler (package poppler-utils)", returncode=2)
    if not hasattr(config, "workerinput"):
        languages.make()  # once, before the workers start


def pytest_collection_modifyitems(items):
    """The checks of one packet or one language follow each other on one worker: its files are opened once."""
    for item in items:
        name = _group(getattr(item, "callspec", None))
        if name:
            item.add_marker(pytest.mark.xdist_group(name))
    items.sort(key=lambda item: str(next((mark.args for mark in item.iter_markers("xdist_group")), "")))


def _group(parameters) -> str | None:
    for name, value in parameters.params.items() if parameters else ():
        match value:
            case packets.Document() | packets.BothEyes():
                return value.path.stem.rsplit("-", 1)[0]
            case packets.Packet():
                return value.stem
            case packets.Packet(), _:
                return value[0].stem
            case str() if name == "language":
                return value
    return None


def pytest_generate_tests(metafunc):
    choices = _choices()
    for name in sorted(set(metafunc.fixturenames) & set(choices)):
        values = choices[name]
        if not values:
            raise packets.Missing(f"the folder holds no file for `{name}`, so {metafunc.function.__name__} would check nothing")
        metafunc.parametrize(name, values, ids=[_name(value) for value in values])


@pytest.fixture(scope="session")
def explained() -> dict[str, list[dict]]:
    """The statements of each case's consent, chosen or not, as the program lists them."""
    return {case["case"]: case["statements"] for case in packets.table("explained.json")}


@pytest.fixture
def sound_consent():
    """One sound consent packet, to be damaged by the checks of the checks."""
    found = packets.pages("consent")
    if not found:
        raise packets.Missing("the folder holds no consent pages")
    return found[0]


@pytest.fixture
def sound_aftercare():
    """The aftercare packet with the most doses, to be damaged by the checks of the checks."""
    found = packets.pages("aftercare")
    if not found:
        raise packets.Missing("the folder holds no aftercare pages")
    return max(found, key=lambda document: len(document.packet["doses"]))
