"""Where evidence files lie in a matter, and whether one is still as it was written."""

from __future__ import annotations

import hashlib
import re
from datetime import UTC, datetime
from pathlib import Path

_NAME = re.compile(r"evidence/\d{4}-\d\d-\d\d/\d{6}-([0-9a-f]{32})\.warc\.gz")


def evidence_name(at: datetime, data: bytes) -> str:
    """Return a file's place in the matter: by the moment of the fetch and the file's own hash."""
    return f"evidence/{at.astimezone(UTC):%Y-%m-%d/%H%M%S}-{_hash(data)}.warc.gz"


def evidence_problem(folder: Path, name: str) -> str:
    """Return what is wrong with the evidence file of that name, "" where it is as written.

    "" also for a text that is no such name: a page can write what it likes.
    """
    written = _NAME.fullmatch(name)
    if not written:
        return ""
    try:
        data = (folder / name).read_bytes()
    except OSError:
        return "is missing; bring it back from a backup"
    return "" if _hash(data) == written[1] else "is not as it was written; bring it back from a backup"


def _hash(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()[:32]
