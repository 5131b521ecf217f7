"""PDF files that are opened once and read once, whatever number of checks look at them."""

import functools
from collections import OrderedDict
from pathlib import Path

import pikepdf

#: How many files stay open: the checks of a packet follow each other, and nothing is read ahead.
OPEN = 16
_shared: OrderedDict[Path, tuple[pikepdf.Pdf, dict]] = OrderedDict()


def opened(path: Path) -> pikepdf.Pdf:
    """A file for reading only. Who changes one opens a copy of their own."""
    if path not in _shared:
        _shared[path] = pikepdf.open(path), {}
        if len(_shared) > OPEN:
            _shared.popitem(last=False)
    return _shared[path][0]


def once(read):
    """Keeps what `read` makes of a file from `opened`. Any other file, as one that a check has damaged, is read anew."""

    @functools.wraps(read)
    def reader(pdf: pikepdf.Pdf):
        kept = next((kept for shared, kept in _shared.values() if shared is pdf), None)
        if kept is None:
            return read(pdf)
        if read not in kept:
            kept[read] = read(pdf)
        return kept[read]

    return reader
