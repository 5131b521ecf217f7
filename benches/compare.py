"""Times and weighs one packet against three general ways of making the same pages. See README.md beside this file."""

import argparse
import importlib.metadata
import json
import os
import platform
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
from collections import Counter
from dataclasses import dataclass, field
from html import unescape
from pathlib import Path

sys.dont_write_bytecode = True  # leaves nothing behind in this folder
import process  # noqa: E402
from process import ROOT, Refusal, Used, output  # noqa: E402

FACES = ("NotoSans-Regular.ttf", "NotoSans-Bold.ttf")
BINDING = "Typst binding"
STANDARDS = ("ua-1", "a-3a")
MOST_MEMORY = 64_000_000  # bytes
CASE, PRACTICE = ROOT / "output-samples/ring-implant/case.toml", ROOT / "output-samples/practice"
PRINT = ["print", str(CASE), "-p", str(PRACTICE), "-m", "before", "--issued", "2026-08-04T10:00:00Z"]

# Each is a whole program: what a user of the library would write and no more.
WEASYPRINT = """
import sys
from pathlib import Path
from weasyprint import HTML
out, *sources = sys.argv[1:]
for source in sources:
    HTML(source).write_pdf(Path(out, Path(source).stem + ".pdf"))
"""
TYPST = """
import sys
from pathlib import Path
import typst
out, fonts, standards, *roots = sys.argv[1:]
for root in roots:
    typst.compile(
        Path(root, "page.typ"), output=Path(out, Path(root).name + ".pdf"), root=root, font_paths=[fonts],
        ignore_system_fonts=True, pdf_standards=standards.split(",") if standards else [],
    )
"""


@dataclass
class Way:
    """One way of making pages, with what its runs used. `expected` gives the words that a page must hold."""

    name: str
    pages: list[str]
    command: list[str]
    out: Path
    environment: dict[str, str] = field(default_factory=dict)
    runs: list[Used] = field(default_factory=list)

    def run(self) -> Used:
        """One cold process."""
        shutil.rmtree(self.out, ignore_errors=True)
        self.out.mkdir(parents=True)
        used = process.run(self.command, self.environment)
        if len(self.sheets()) != len(self.pages):  # the word processor may end with 0 and make nothing
            raise Refusal(f"{self.name}: {len(self.sheets())} PDF files instead of {len(self.pages)}")
        return used

    def sheets(self) -> list[Path]:
        return sorted(self.out.glob("*.pdf"))

    def words(self) -> str:
        return "\n".join(output("pdftotext", "-raw", str(path), "-") for path in self.sheets())

    def wall(self) -> float:
        return statistics.median(used.wall for used in self.runs)

    def memory(self) -> int:
        return max(used.memory for used in self.runs)


# What is compared


def embedded_faces() -> Path:
    """The folder of the two faces the program has built in, from the source of the crate that holds them."""
    host = f"{platform.machine()}-unknown-linux-gnu"  # else cargo asks for packages of other systems
    listing = output("cargo", "metadata", "--format-version", "1", "--locked", "--offline", "--filter-platform", host)
    crates = json.loads(listing)["packages"]
    return Path(next(crate["manifest_path"] for crate in crates if crate["name"] == "notosans")).parent / "fonts"


def lay_ready(program: Path, work: Path) -> list[str]:
    """Writes what the other ways read: fonts, HTML, and the layout files with the data of each page set. Names the page sets."""
    fonts = work / "fonts"
    fonts.mkdir()
    for face in FACES:
        shutil.copy(embedded_faces() / face, fonts)
    (work / "fonts.conf").write_text(
        f'<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "fonts.dtd"><fontconfig><dir>{fonts}</dir>'
        f"<cachedir>{work / 'font-cache'}</cachedir></fontconfig>"
    )
    output(str(program), *PRINT, "--as", "html", "--out", str(work / "html"))
    documents = json.loads(output(str(program), "blocks", "--drawn", *PRINT[1:]))[0]
    for document in documents:
        root = work / "typst" / document["page"]
        shutil.copytree(ROOT / "templates/pages", root)
        (root / "document.json").write_text(json.dumps(document, ensure_ascii=False), encoding="utf-8")
        (root / "fonts.json").write_text("[]")  # families besides the built-in one
    if documents[0]["page"] != "consent":
        raise Refusal("the consent is withheld: build the program again if texts changed")
    return [document["page"] for document in documents]


def ways(program: Path, work: Path, sets: list[str], everything: bool, soffice: str) -> list[Way]:
    """The program for every file, the others for the patient's page set alone and for every page set."""
    faces = {"FONTCONFIG_FILE": str(work / "fonts.conf")}

    def sources(which):
        return [str(path) for page in which for path in (work / "html").glob(f"*-{page}.html")]

    def binding(which, *standards):
        out = work / "out" / f"typst-{len(which)}-{len(standards)}"
        roots = [str(work / "typst" / page) for page in which]
        command = [sys.executable, "-c", TYPST, str(out), str(work / "fonts"), ",".join(standards), *roots]
        return Way(BINDING + (", both standards" if standards else ""), which, command, out)

    def html_library(which):
        out = work / "out" / f"html-{len(which)}"
        return Way("WeasyPrint", which, [sys.executable, "-c", WEASYPRINT, str(out), *sources(which)], out, faces)

    def word_processor(which):
        out = work / "out" / f"office-{len(which)}"
        profile = f"-env:UserInstallation={(work / 'office-profile').as_uri()}"
        command = [soffice, profile, "--headless", "--convert-to", "pdf", "--outdir", str(out), *sources(which)]
        return Way("LibreOffice", which, command, out, faces)

    out, patient = work / "out" / "ours", sets[:1]
    found = [
        Way("vitreoleaf, all files", sets, [str(program), *PRINT, "--out", str(out)], out),
        binding(patient), binding(patient, *STANDARDS), binding(sets, *STANDARDS),
    ]
    others = [html_library(patient), html_library(sets), word_processor(patient), word_processor(sets)]
    return found + (others if everything else [])


# What came out


def counted(text: str) -> Counter:
    return Counter(re.findall(r"[^\W_]+", text.replace("\u200b", "")))


def check_words(every: list[Way], work: Path):
    """A comparison with pages that lack words would be unfair: the binding against our pages, the others against their source."""
    ours = {path.stem.rsplit("-", 1)[1]: counted(output("pdftotext", "-raw", str(path), "-")) for path in every[0].sheets()}
    for way in every[1:]:
        if way.name.startswith(BINDING):
            wanted = sum((ours[page] for page in way.pages), Counter())
        else:
            wanted = sum((source_words(work / "html", page) for page in way.pages), Counter())
        lost = wanted - counted(way.words())
        if lost:
            raise Refusal(f"{way.name} lost {len(lost)} words, among them {sorted(lost)[:10]}; the comparison would be unfair")


def source_words(folder: Path, page: str) -> Counter:
    """The words of a page but for its drawings with what stands below them: LibreOffice shows a drawing as a blank."""
    body = next(folder.glob(f"*-{page}.html")).read_text("utf-8").split("<body>", 1)[1]
    body = re.sub(r"<svg.*?</svg>(<figcaption>.*?</figcaption>)?", " ", body, flags=re.S)
    return counted(unescape(re.sub(r"<[^>]*>", " ", re.sub(r"</?(?:strong|em)>", "", body))))


def look(way: Way) -> dict:
    """Files, pages and marks of the last run."""
    facts = [output("pdfinfo", str(path)) for path in way.sheets()]
    return {
        "files": len(list(way.out.iterdir())),
        "pages": sum(int(re.search(r"^Pages:\s+(\d+)", text, re.M)[1]) for text in facts),
        "tagged": all(re.search(r"^Tagged:\s+yes", text, re.M) for text in facts),
        "claims": claims(output("pdfinfo", "-meta", str(way.sheets()[0]))),
    }


def claims(meta: str) -> str:
    """The standards a file says it keeps. That it keeps them is not checked here."""

    def value(key):
        match = re.search(rf'{key}(?:>|=")([^<"]+)', meta)
        return match[1] if match else ""

    named = {"UA-": value("pdfuaid:part"), "A-": value("pdfaid:part") + value("pdfaid:conformance").lower()}
    return ", ".join(kind + part for kind, part in named.items() if part) or "none"


def check_same_layout(every: list[Way], found: list[dict]):
    """The binding lays out the files of this folder, the program those it was built with."""
    whole = [seen["pages"] for way, seen in zip(every, found, strict=True)
             if way is every[0] or way.name.startswith(BINDING) and way.pages == every[0].pages]
    if len(set(whole)) > 1:
        raise Refusal(f"program and layout files make different numbers of pages {whole}; build the program again")


# Running and telling


def measure(every: list[Way], work: Path, count: int) -> list[dict]:
    """One unmeasured run of each to warm the disk cache, then `count` rounds of all in turn, so that a slow spell of the
    machine falls on all."""
    for way in every:
        way.run()
    found = [look(way) for way in every]
    check_words(every, work)
    check_same_layout(every, found)
    for number in range(1, count + 1):
        for way in every:
            way.runs.append(way.run())
        print(f"round {number} of {count}", file=sys.stderr)
    return found


def table(every: list[Way], found: list[dict]) -> str:
    lines = ["| way | page sets | files | pages | wall median, s | CPU median, s | peak memory, MB | tagged | claims |",
             "|" + " --- |" * 9]
    for way, seen in zip(every, found, strict=True):
        cpu = statistics.median(used.cpu for used in way.runs)
        cells = [way.name, ", ".join(way.pages), seen["files"], seen["pages"], f"{way.wall():.3f}", f"{cpu:.3f}",
                 f"{way.memory() / 1e6:.0f}", "yes" if seen["tagged"] else "no", seen["claims"]]
        lines.append("| " + " | ".join(map(str, cells)) + " |")
    return "\n".join(lines)


def verdict(every: list[Way]) -> str:
    """The faster of the two runs of the binding for the consent alone stands for it."""
    ours, rival = every[0], min((way for way in every if way.name.startswith(BINDING) and len(way.pages) == 1), key=Way.wall)
    return process.aims([
        ("all files of one case, cold, in less time than the binding's consent alone",
         f"{ours.wall():.3f} s against {rival.wall():.3f} s", ours.wall() < rival.wall()),
        (f"under {MOST_MEMORY / 1e6:.0f} MB", f"{ours.memory() / 1e6:.0f} MB", ours.memory() < MOST_MEMORY),
    ])


def versions(everything: bool, soffice: str) -> str:
    named = [f"{name} {importlib.metadata.version(name)}" for name in ("typst", *(["weasyprint"] if everything else []))]
    office = [output(soffice, "--version").strip().split("\n")[0]] if everything else []
    poppler = subprocess.run(["pdfinfo", "-v"], capture_output=True, text=True).stderr.split("\n")[0]
    return "; ".join([*named, *office, f"Python {platform.python_version()}", poppler])


def parse():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--binary", type=Path, help="program to measure; left out: the release build")
    parser.add_argument("--runs", type=int, default=10, help="measured runs of each way (at least 10 for figures to quote)")
    parser.add_argument("--soffice", default="soffice", help="the word processor's command")
    parser.add_argument("--smoke", action="store_true", help="once, the Typst binding only: shows that the comparison still runs")
    parser.add_argument("--keep", type=Path, metavar="FOLDER", help="keep the pages of the last run of each way")
    return parser.parse_args()


def main():
    arguments = parse()
    runs = 1 if arguments.smoke else arguments.runs
    with tempfile.TemporaryDirectory(prefix="vitreoleaf-bench-") as folder:
        try:
            program, work = process.program(arguments.binary), Path(folder)
            sets, load = lay_ready(program, work), os.getloadavg()[0]
            every = ways(program, work, sets, not arguments.smoke, arguments.soffice)
            found = measure(every, work, runs)
            print(table(every, found), process.machine() + f". Load at the start {load:.2f}.",
                  versions(not arguments.smoke, arguments.soffice) + f". {runs} runs of each in turn. {output(str(program), '--version').strip()}, "
                  f"{program.parent.name} build.", verdict(every), sep="\n\n")
        except (Refusal, importlib.metadata.PackageNotFoundError) as refusal:
            sys.exit(f"error: {refusal}")
        finally:
            if arguments.keep and Path(folder, "out").is_dir():
                shutil.copytree(Path(folder, "out"), arguments.keep, dirs_exist_ok=True)


if __name__ == "__main__":
    main()
