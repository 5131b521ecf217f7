"""How time and memory grow with the number of cases printed in one command. See README.md beside this file."""

import argparse
import contextlib
import os
import sys
import tempfile
from pathlib import Path

sys.dont_write_bytecode = True  # leaves nothing behind in this folder
import process  # noqa: E402
from process import ROOT, Refusal, Used  # noqa: E402

PRACTICE = ROOT / "output-samples/practice"
RECORD = (ROOT / "output-samples/ring-implant/case.toml").read_text("utf-8")
FIRST = 200  # packets after which memory should not grow any more
MOST_GROWTH = 1.05
MOST_MEMORY = 200_000_000  # bytes
PACKETS_A_SECOND = 12  # and core


def write_cases(folder: Path, count: int):
    """Invented patients who differ in code, name and record number."""
    for number in range(count):
        record = RECORD
        letters = "".join(chr(ord("a") + int(digit)) for digit in f"{number:05}")  # a code may not hold a part of the name
        for old, new in (("EX-01", f"EX-{number:05}"), ("Rosa Beispiel", f"Rosa Beispiel {letters}"), ("000-101", f"900-{number:05}")):
            assert old in record, f"the record has no {old}"
            record = record.replace(old, new)
        (folder / f"{number:05}.toml").write_text(record, "utf-8")


class Memory:
    """What the process holds, by the number of packets that stand whole in the folder. Those being written are in a folder
    of their own within it and do not count."""

    def __init__(self, pages: Path):
        self.pages, self.samples = pages, []

    def watch(self, pid: int):
        held = process.resident(pid)
        if held:
            self.samples.append((self.made(), held))

    def made(self) -> int:
        with contextlib.suppress(FileNotFoundError), os.scandir(self.pages) as entries:
            return sum(entry.name.endswith("-packet.json") for entry in entries)
        return 0

    def peak(self, above: int, up_to: float) -> int:
        return max((held for made, held in self.samples if above < made <= up_to), default=0)

    def grown(self) -> float | None:
        """The peak after the first packets against the peak until then; none for a shorter run."""
        early, late = self.peak(-1, FIRST), self.peak(FIRST, float("inf"))
        return late / early if early and late else None


def batch(program: Path, count: int) -> tuple[Used, Memory]:
    """All files of so many cases before the treatment, in one command."""
    with tempfile.TemporaryDirectory(prefix="vitreoleaf-bench-") as folder:
        cases, pages = Path(folder, "cases"), Path(folder, "pages")
        cases.mkdir()
        write_cases(cases, count)
        memory = Memory(pages)
        command = [str(program), "print", *map(str, sorted(cases.iterdir())), "-p", str(PRACTICE), "-m", "before",
                   "--issued", "2026-08-04T10:00:00Z", "--out", str(pages)]
        used = process.run(command, watch=memory.watch)
        if memory.made() != count:
            raise Refusal(f"{memory.made()} packets of {count}")
        if len(list(pages.glob("*-consent.pdf"))) != count:
            raise Refusal("consents are withheld: confirm the demo, then build the program again")
        return used, memory


def samples(memory: Memory, count: int) -> str:
    """The most that the process held in each tenth of a run."""
    tenths = [(count * part // 10, count * (part + 1) // 10) for part in range(10)]
    rows = [f"| {end} | {memory.peak(start if start else -1, end) / 1e6:.0f} |" for start, end in tenths if end > start]
    return "\n".join(["| packets written | most memory held since the row before, MB |", "| --- | --- |", *rows])


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--binary", type=Path, help="program to measure; left out: the release build")
    parser.add_argument("--cases", type=int, nargs="+", default=[1, 10, 100, 1000, 2000], help="numbers of cases in one command")
    arguments = parser.parse_args()
    print("| cases | wall, s | CPU, s | packets a second and core | peak memory, MB |", "|" + " --- |" * 5, sep="\n")
    try:
        program = process.program(arguments.binary)
        for count in arguments.cases:
            used, memory = batch(program, count)
            speed = count / used.cpu
            print(f"| {count} | {used.wall:.2f} | {used.cpu:.2f} | {speed:.1f} | {used.memory / 1e6:.0f} |", flush=True)
    except Refusal as refusal:
        sys.exit(f"error: {refusal}")
    rows = [(f"{PACKETS_A_SECOND} packets a second and core in a batch", f"{speed:.1f}", speed >= PACKETS_A_SECOND),
            (f"{count} packets under {MOST_MEMORY / 1e6:.0f} MB", f"{used.memory / 1e6:.0f} MB", used.memory < MOST_MEMORY)]
    if grown := memory.grown():
        rows.append((f"growth of memory after {FIRST} packets under {MOST_GROWTH - 1:.0%}", f"{grown - 1:.1%}", grown < MOST_GROWTH))
    print(samples(memory, count), process.machine(), process.aims(rows), sep="\n\n")


if __name__ == "__main__":
    main()
