"""The folder of generated packets that the checks read. It is filled by the program's `demo`."""

import functools
import json
import os
import re
from dataclasses import dataclass
from pathlib import Path

FOLDER = "VITREOLEAF_PACKETS"
NAME = re.compile(r"(?P<code>.+)-r(?P<revision>\d+)-(?P<moment>before|after)-(?P<rest>.+)")
PATIENT_PAGES = ("consent", "aftercare", "both-eyes", "outcome", "withdrawal", "drops-before")
STAFF_PAGES = ("surgeon", "desk", "note", "letter", "urgent-letter", "next-session", "suitability")


class Missing(Exception):
    """The folder does not hold what the checks need; the text says what to do."""


def root() -> Path:
    """The folder named by the environment."""
    value = os.environ.get(FOLDER)
    if not value:
        raise Missing(f"{FOLDER} is not set: give it the folder into which the program wrote its demo packets")
    folder = Path(value)
    if not folder.is_dir():
        raise Missing(f"{FOLDER} names no folder: run the program's demo first")
    return folder


@dataclass(frozen=True)
class Packet:
    """One case at one moment, as the program describes it to other programs."""

    path: Path

    @functools.cached_property
    def data(self) -> dict:
        return json.loads(self.path.read_text(encoding="utf-8"))

    def __getitem__(self, key):
        return self.data[key]

    @property
    def stem(self) -> str:
        """`<code>-r<revision>-<moment>`, the start of every file name of the packet."""
        return self.path.name.removesuffix("-packet.json")

    def file(self, rest: str) -> Path:
        return self.path.with_name(f"{self.stem}-{rest}")

    @property
    def eye(self) -> str:
        return f"{self['eye']} eye"

    @property
    def other_eye(self) -> str:
        return "left eye" if self["eye"] == "right" else "right eye"

    def fact(self, name: str) -> str:
        """A fact that the pages were written from. A packet without it cannot be checked."""
        facts = self["facts"]
        if name not in facts:
            raise Missing(f"{self.path.name} has no fact `{name}`: the program must list every fact it wrote from")
        return facts[name]


@dataclass(frozen=True)
class Document:
    """One PDF of a packet."""

    path: Path
    page: str
    packet: Packet

    @property
    def for_patient(self) -> bool:
        return self.page in PATIENT_PAGES


@functools.cache
def packets() -> tuple[Packet, ...]:
    found = tuple(Packet(path) for path in sorted(root().glob("*/*-packet.json")))
    if not found:
        raise Missing(f"no file <case>/*-packet.json in the folder of {FOLDER}: run the program's demo first")
    return found


@functools.cache
def documents() -> tuple[Document, ...]:
    """Every PDF in the folder, whether a packet lists it or not."""
    found = []
    for packet in packets():
        for path in sorted(packet.path.parent.glob(f"{packet.stem}-*.pdf")):
            found.append(Document(path, path.stem.removeprefix(packet.stem + "-"), packet))
    found += [Document(both.path, "both-eyes", both.packets[1]) for both in both_eyes()]
    for packet in packets():  # a sheet of the first visit has no packet of its own
        found += [Document(path, "suitability", packet) for path in packet.path.parent.glob(f"{packet['case']}-suitability.pdf")]
    return tuple(found)


@dataclass(frozen=True)
class BothEyes:
    """The calendar of two cases of one patient."""

    path: Path
    packets: tuple[Packet, Packet]


@functools.cache
def both_eyes() -> tuple[BothEyes, ...]:
    """Every calendar of both eyes, with the packets that name it."""
    found = []
    for path in sorted(root().glob("*/*-both-eyes.pdf")):
        named = tuple(packet for packet in packets() if packet["both_eyes"] == path.stem)
        if len(named) != 2:
            raise Missing(f"{path.name} is named by {len(named)} packets, not by two")
        found.append(BothEyes(path, named))
    return tuple(found)


def pages(*kinds: str) -> list[Document]:
    return [document for document in documents() if document.page in kinds]


def calendars() -> list[tuple[Packet, Path]]:
    return [(packet, packet.file("calendar.ics")) for packet in packets() if packet.file("calendar.ics").exists()]


def table(name: str) -> list[dict]:
    """A table of computed values in the root of the folder."""
    path = root() / name
    if not path.exists():
        raise Missing(f"{name} is missing in the folder of {FOLDER}: the suite writes it beside the demo packets")
    rows = json.loads(path.read_text(encoding="utf-8"))
    if not rows:
        raise Missing(f"{name} is empty")
    return rows
