"""Times and weighs one packet against three general ways of making the same pages. See README.md beside this file."""

import argparse
import contextlib
import importlib.metadata
import json
import os
import platform
import re
import shutil
import signal
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from dataclasses import dataclass, field
from html import unescape
from pathlib import Path

sys.dont_write_bytecode = True  # leaves nothing behind in this folder
import pages  # noqa: E402

ROOT = Path(__file__).resolve().parent.parent
FACES = ("NotoSans-Regular.ttf", "NotoSans-Bold.ttf")
BINDING = "Typst binding"
STANDARDS = ("ua-1", "a-3a")
LONG_WORD = 26  # characters; templates/pages/page.typ breaks such a word where it must
LONGEST_RUN = 300  # seconds; a converter that hangs is an error, not a result
GOAL_BYTES = 64_000_000

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


class Refusal(Exception):
    """Something is missing or wrong; the message tells a person what to do."""


@dataclass
class Way:
    """One way of making pages, with what its runs used."""

    name: str
    pages: list[str]
    command: list[str]
    out: Path
    environment: dict[str, str] = field(default_factory=dict)
    runs: list[dict] = field(default_factory=list)

    def run(self):
        """One cold process. Wall time from start to end; memory is the largest of the process and those it waited for."""
        shutil.rmtree(self.out, ignore_errors=True)
        self.out.mkdir(parents=True)
        with tempfile.TemporaryFile() as log:
            start = time.perf_counter()
            process = subprocess.Popen(
                self.command, stdin=subprocess.DEVNULL, stdout=log, stderr=log,
                env=os.environ | self.environment, start_new_session=True,
            )
            usage = reap(process)
            wall = time.perf_counter() - start
            if process.returncode != 0:
                log.seek(0)
                tail = log.read().decode(errors="replace")[-2000:]
                raise Refusal(f"{self.name}: ended with {process.returncode}\n{tail}")
        if len(self.sheets()) != len(self.pages):  # the word processor may end with 0 and make nothing
            raise Refusal(f"{self.name}: {len(self.sheets())} PDF files instead of {len(self.pages)}")
        return {"wall": wall, "cpu": usage.ru_utime + usage.ru_stime, "memory": usage.ru_maxrss * 1024}

    def sheets(self):
        return sorted(self.out.glob("*.pdf"))

    def of(self, key):
        return [run[key] for run in self.runs]


def reap(process):
    """Waits for the end of a process and gives its use of resources. `ru_maxrss` is in KiB on Linux."""

    def stop():
        with contextlib.suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)

    timer = threading.Timer(LONGEST_RUN, stop)
    timer.start()
    _, status, usage = os.wait4(process.pid, 0)
    timer.cancel()
    process.returncode = os.waitstatus_to_exitcode(status)
    return usage


def output(*command):
    """What a command prints. Not for measured runs."""
    try:
        done = subprocess.run(command, capture_output=True, text=True, check=True, cwd=ROOT)
    except FileNotFoundError:
        raise Refusal(f"{command[0]} is missing; benches/README.md says what to install") from None
    except subprocess.CalledProcessError as error:
        raise Refusal(f"{command[0]} ended with {error.returncode}\n{error.stderr[-2000:]}") from None
    return done.stdout


# What is compared


def binary(asked):
    """The program to measure: the one asked for, else the release build, else the debug build."""
    release, debug = ROOT / "target/release/vitreoleaf", ROOT / "target/debug/vitreoleaf"
    for path in [asked.resolve()] if asked else [release, debug]:
        if path.is_file():
            return path
    raise Refusal("there is no program to measure; run `cargo build --release`, or name one with --binary")


def embedded_faces(asked):
    """The folder of the two faces the program has built in, from the source of the crate that holds them."""
    if asked:
        folder = asked.resolve()
    else:
        host = f"{platform.machine()}-unknown-linux-gnu"  # else cargo asks for packages of other systems
        listing = output("cargo", "metadata", "--format-version", "1", "--locked", "--offline", "--filter-platform", host)
        crates = json.loads(listing)["packages"]
        folder = Path(next(crate["manifest_path"] for crate in crates if crate["name"] == "notosans")).parent / "fonts"
    missing = [face for face in FACES if not (folder / face).is_file()]
    if missing:
        raise Refusal(f"{folder} lacks {', '.join(missing)}; name the folder that has them with --fonts")
    return folder


def lay_ready(work, documents, practice, faces):
    """Writes what the other ways read: fonts, HTML, and the layout files with a document.json for each page set."""
    fonts = work / "fonts"
    fonts.mkdir()
    for face in FACES:
        shutil.copy(faces / face, fonts)
    (work / "fonts.conf").write_text(
        f'<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "fonts.dtd"><fontconfig><dir>{fonts}</dir>'
        f"<cachedir>{work / 'font-cache'}</cachedir></fontconfig>"
    )
    for document in documents:
        (work / "html").mkdir(exist_ok=True)
        (work / "html" / f"{document['page']}.html").write_text(pages.html(document), encoding="utf-8")
        root = work / "typst" / document["page"]
        for layout in (ROOT / "templates/pages", practice / "templates/pages"):
            if layout.is_dir():
                shutil.copytree(layout, root, dirs_exist_ok=True)
        (root / "document.json").write_text(json.dumps(document, ensure_ascii=False), encoding="utf-8")


def ways(arguments, program, work, sets):
    """All ways: the program for every file, the others for the patient's page set alone and for every page set."""
    patient = sets[0]
    faces = {"FONTCONFIG_FILE": str(work / "fonts.conf")}
    profile = f"-env:UserInstallation={(work / 'office-profile').as_uri()}"

    def way(name, which, out, command, environment=None):
        return Way(name, which, command, out, environment or {})

    def ours():
        out = work / "out" / "ours"
        command = [str(program), "print", str(arguments.case), "-p", str(arguments.practice), "-m", arguments.moment,
                   "--issued", arguments.issued, "--out", str(out)]
        return way("vitreoleaf, all files", sets, out, command)

    def html_library(which):
        out = work / "out" / f"html-{len(which)}"
        sources = [str(work / "html" / f"{page}.html") for page in which]
        return way("WeasyPrint", which, out, [sys.executable, "-c", WEASYPRINT, str(out), *sources], faces)

    def word_processor(which):
        out = work / "out" / f"office-{len(which)}"
        sources = [str(work / "html" / f"{page}.html") for page in which]
        command = [arguments.soffice, profile, "--headless", "--convert-to", "pdf", "--outdir", str(out), *sources]
        return way("LibreOffice", which, out, command, faces)

    def binding(which, standards=()):
        out = work / "out" / f"typst-{len(which)}-{len(standards)}"
        roots = [str(work / "typst" / page) for page in which]
        command = [sys.executable, "-c", TYPST, str(out), str(work / "fonts"), ",".join(standards), *roots]
        return way(BINDING + (", both standards" if standards else ""), which, out, command)

    return [
        ours(),
        binding([patient]),
        binding([patient], STANDARDS),
        binding(sets, STANDARDS),
        html_library([patient]),
        html_library(sets),
        word_processor([patient]),
        word_processor(sets),
    ]


# What came out


def split_words(text):
    """Words to count, and the long ones, which our layout may break anywhere."""
    parts = text.replace("\u200b", "").split()
    long = {part for part in parts if len(part) >= LONG_WORD}
    return Counter(re.findall(r"[^\W_]+", " ".join(part for part in parts if part not in long))), long


def body_text(document):
    """Words of the body; alternative texts are left out, since our pages keep them in the tags."""
    body = pages.html(document).split("</div><h1>", 1)[1]
    body = re.sub(r'<p class="alt">.*?</p>', " ", body, flags=re.DOTALL)
    return unescape(re.sub(r"<[^>]*>", " ", re.sub(r"</?(?:strong|em)>", "", body)))


def check_words(way, documents):
    """A comparison with pages that lack words would be unfair."""
    expected, long = split_words(" ".join(body_text(d) for d in documents if d["page"] in way.pages))
    made = "\n".join(output("pdftotext", "-raw", str(path), "-") for path in way.sheets()).replace("\u200b", "")
    squeezed = "".join(made.split())
    lost = expected - Counter(re.findall(r"[^\W_]+", made))
    gone = sorted(lost) + sorted(word for word in long if word not in squeezed)
    if gone:
        raise Refusal(f"{way.name} lost {len(gone)} words, among them {gone[:10]}; the comparison would be unfair")


def look(way, documents):
    """Files, pages and marks of the last run."""
    check_words(way, documents)
    files, sheets = list(way.out.iterdir()), way.sheets()
    facts = [output("pdfinfo", str(path)) for path in sheets]
    marks = [claims(output("pdfinfo", "-meta", str(path))) for path in sheets]
    return {
        "files": len(files),
        "bytes": sum(path.stat().st_size for path in files),
        "pages": sum(int(re.search(r"^Pages:\s+(\d+)", text, re.M)[1]) for text in facts),
        "tagged": all(re.search(r"^Tagged:\s+yes", text, re.M) for text in facts),
        "claims": marks[0] if len(set(marks)) == 1 else "differ",
    }


def check_same_layout(every, found):
    """The binding lays out the files of this folder, the program those it was built with."""
    sets = every[0].pages
    counts = {seen["pages"] for way, seen in zip(every, found, strict=True)
              if way is every[0] or way.name.startswith(BINDING) and way.pages == sets}
    if len(counts) > 1:
        raise Refusal("program and layout files make different numbers of pages; build the program again")


def claims(meta):
    """The standards a file says it keeps. That it keeps them is not checked here."""

    def value(key):
        match = re.search(rf'{key}(?:>|=")([^<"]+)', meta)
        return match[1] if match else None

    ua, part = value("pdfuaid:part"), value("pdfaid:part")
    level = (value("pdfaid:conformance") or "").lower()
    return ", ".join([*([f"UA-{ua}"] if ua else []), *([f"A-{part}{level}"] if part else [])]) or "none"


# Where it ran


def machine():
    def first(path, pattern):
        match = re.search(pattern, Path(path).read_text(), re.M)
        return match[1] if match else "unknown"

    return {
        "processor": first("/proc/cpuinfo", r"^model name\s*:\s*(.+)$"),
        "cores": len(os.sched_getaffinity(0)),
        "memory_bytes": int(first("/proc/meminfo", r"^MemTotal:\s+(\d+)")) * 1024,
        "system": first("/etc/os-release", r'^PRETTY_NAME="?([^"\n]+)'),
        "kernel": platform.release(),
    }


def package(name):
    try:
        return importlib.metadata.version(name)
    except importlib.metadata.PackageNotFoundError:
        raise Refusal(f"{name} is missing; install benches/requirements.txt and run with that Python") from None


def versions(program, soffice):
    return {
        "vitreoleaf": output(str(program), "--version").split()[-1],
        "typst (binding)": package("typst"),
        "weasyprint": package("weasyprint"),
        "libreoffice": output(soffice, "--version").strip().split("\n")[0],
        "python": platform.python_version(),
        "poppler": subprocess.run(["pdfinfo", "-v"], capture_output=True, text=True).stderr.split("\n")[0],
    }


# Running and telling


def measure(every, documents, count):
    """One unmeasured run of each to warm the disk cache, then `count` rounds of all in turn, so that a slow spell of the
    machine falls on all."""
    found = []
    for way in every:
        way.run()
        found.append(look(way, documents))
        print(f"warmed: {way.name} ({', '.join(way.pages)})", file=sys.stderr)
    check_same_layout(every, found)
    for number in range(1, count + 1):
        for way in every:
            way.runs.append(way.run())
        print(f"round {number} of {count}", file=sys.stderr)
    return [summary(way) | seen for way, seen in zip(every, found, strict=True)]


def summary(way):
    return {
        "way": way.name,
        "page_sets": way.pages,
        "wall_median_s": statistics.median(way.of("wall")),
        "wall_min_s": min(way.of("wall")),
        "wall_max_s": max(way.of("wall")),
        "cpu_median_s": statistics.median(way.of("cpu")),
        "memory_peak_bytes": max(way.of("memory")),
        "runs": way.runs,
    }


def markdown(result):
    heads = ["Way", "Page sets", "Files", "Pages", "Wall median, s", "Wall min, s", "CPU median, s", "Peak memory, MB",
             "Tagged", "Claims"]
    lines = ["| " + " | ".join(heads) + " |", "|" + " --- |" * len(heads)]
    for row in result["ways"]:
        cells = [row["way"], ", ".join(row["page_sets"]), row["files"], row["pages"], f"{row['wall_median_s']:.3f}",
                 f"{row['wall_min_s']:.3f}", f"{row['cpu_median_s']:.3f}", f"{row['memory_peak_bytes'] / 1e6:.1f}",
                 "yes" if row["tagged"] else "no", row["claims"]]
        lines.append("| " + " | ".join(map(str, cells)) + " |")
    host = result["machine"]
    lines += [
        "",
        f"{host['processor']}, {host['cores']} cores, {host['memory_bytes'] / 1e9:.0f} GB, {host['system']}, "
        f"kernel {host['kernel']}. Load before and after: {result['load'][0]:.2f}, {result['load'][1]:.2f}.",
        "; ".join(f"{name} {version}" for name, version in result["versions"].items()) + ".",
        f"Case {result['case']}, {result['moment']} the treatment, {result['rounds']} runs of each in turn after one "
        f"unmeasured run. Program: {result['program']}.",
        f"This way of measuring cannot show less memory than {result['memory_floor_bytes'] / 1e6:.1f} MB.",
        "",
        *verdict(result),
        *result["notes"],
    ]
    return "\n".join(lines)


def verdict(result):
    """The goal against what was measured, the faster of the two single runs of the binding standing for it."""
    ours = result["ways"][0]
    rivals = [row for row in result["ways"] if row["way"].startswith(BINDING) and len(row["page_sets"]) == 1]
    rival = min(rivals, key=lambda row: row["wall_median_s"])
    faster = ours["wall_median_s"] < rival["wall_median_s"]
    lighter = ours["memory_peak_bytes"] < GOAL_BYTES
    return [
        f"Goal, time: all files {ours['wall_median_s']:.3f} s, {rival['way']} for the {rival['page_sets'][0]} alone "
        f"{rival['wall_median_s']:.3f} s: {'met' if faster else 'NOT met'}.",
        f"Goal, memory: {ours['memory_peak_bytes'] / 1e6:.1f} MB, under {GOAL_BYTES / 1e6:.0f} MB: "
        f"{'met' if lighter else 'NOT met'}.",
    ]


def notes(program, count, load):
    found = []
    if "release" not in program.parts:
        found.append("Note: not a build in a release folder. These figures say nothing about the program.")
    if count < 10:
        found.append("Note: fewer than 10 runs. These figures are rough.")
    if load > 0.5:
        found.append("Note: other work was running when the measuring began. These figures are rough.")
    return found


def compare(arguments, work):
    program = binary(arguments.binary)
    found = {"machine": machine(), "versions": versions(program, arguments.soffice)}
    listing = output(str(program), "blocks", str(arguments.case), "-p", str(arguments.practice), "-m", arguments.moment,
                     "--issued", arguments.issued)
    documents = json.loads(listing)
    sets = [document["page"] for document in documents]
    if sets[0] not in ("consent", "aftercare"):
        raise Refusal("the pages for the patient are withheld: build the program again if texts changed, else take another case")
    lay_ready(work, documents, arguments.practice, embedded_faces(arguments.fonts))
    load = os.getloadavg()[0]
    floor = Way("nothing", [], ["true"], work / "out" / "nothing").run()["memory"]
    rows = measure(ways(arguments, program, work, sets), documents, arguments.runs)
    return found | {
        "case": arguments.case.parent.name,
        "moment": arguments.moment,
        "program": str(program.relative_to(ROOT)) if program.is_relative_to(ROOT) else program.name,
        "rounds": arguments.runs,
        "load": [load, os.getloadavg()[0]],
        "memory_floor_bytes": floor,
        "notes": notes(program, arguments.runs, load),
        "ways": rows,
    }


def parse():
    samples = ROOT / "output-samples"
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--binary", type=Path, help="program to measure; left out: the release build, else the debug build")
    parser.add_argument("--case", type=lambda text: Path(text).resolve(), default=samples / "ring-implant/case.toml")
    parser.add_argument("--practice", type=lambda text: Path(text).resolve(), default=samples / "practice")
    parser.add_argument("--moment", choices=("before", "after"), default="before")
    parser.add_argument("--issued", default="2026-08-04T10:00:00Z")
    parser.add_argument("--runs", type=int, default=10, help="measured runs of each way (at least 10 for figures to quote)")
    parser.add_argument("--fonts", type=Path, help="folder of the two Noto Sans faces; left out: asked of cargo")
    parser.add_argument("--soffice", default="soffice", help="the word processor's command")
    parser.add_argument("--json", type=Path, metavar="FILE", help="also write every figure of every run")
    parser.add_argument("--keep", type=Path, metavar="FOLDER", help="keep the pages of the last run of each way")
    arguments = parser.parse_args()
    if arguments.runs < 1:
        parser.error("--runs must be at least 1")
    return arguments


def main():
    arguments = parse()
    with tempfile.TemporaryDirectory(prefix="vitreoleaf-bench-") as folder:
        try:
            result = compare(arguments, Path(folder))
        except Refusal as refusal:
            sys.exit(f"error: {refusal}")
        finally:
            if arguments.keep and Path(folder, "out").is_dir():
                shutil.copytree(Path(folder, "out"), arguments.keep, dirs_exist_ok=True)
    print(markdown(result))
    if arguments.json:
        arguments.json.write_text(json.dumps(result, indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
