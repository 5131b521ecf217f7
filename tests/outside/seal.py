"""What goes along in a patient's PDF, and the code on its first page."""

import hashlib
import re

NAME = "vitreoleaf-page.json"
"""The file that goes along."""

CODE = re.compile(r"(?P<id>[A-Za-z0-9_-]+) r(?P<revision>\d+) (?P<hash>[0-9A-F]{40})")
"""What the code says: document id, version, 160 bits of SHA-256."""


def carried(pdf) -> bytes:
    return pdf.attachments[NAME].get_file().read_bytes()


def fingerprint(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()[:40].upper()
