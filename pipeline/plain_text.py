"""Text made fit to be read: outside text safe for a terminal, lines cut to a width."""

from __future__ import annotations

import textwrap
import unicodedata
from collections.abc import Iterable

from connectors.days import Days

WIDTH = 100
# Marks that turn the reading direction: in a title they could make a line say something else.
_TURNING = set("\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def safe(text: str, most: int = 10_000) -> str:
    """Return the text on one line, without control characters or direction marks, cut at most."""
    kept = " ".join(without_marks(text).split())
    return kept if len(kept) <= most else kept[: most - 1] + "…"


def without_marks(text: str) -> str:
    """Return the text, its lines kept, without control characters and direction marks."""
    if text.isprintable():  # none in it
        return text
    return "".join(
        char
        for char in text.replace("\r\n", "\n").replace("\r", "\n")
        if char in "\n\t" or (char not in _TURNING and unicodedata.category(char)[0] != "C")
    )


def wrapped(text: str, indent: str = "", most: int = 10_000) -> str:
    """Return the safe text in lines of at most WIDTH, each with the indent."""
    lines = textwrap.wrap(
        safe(text, most), WIDTH, initial_indent=indent, subsequent_indent=indent, break_on_hyphens=False
    )
    return "\n".join(lines)


def many(count: int, noun: str) -> str:
    """Return the count with its noun, which takes an s where it is not one."""
    return f"{count:,} {noun}{'' if count == 1 else 's'}"


def columns(rows: Iterable[tuple[str, ...]], indent: str = "  ") -> str:
    """Return the rows with each column as wide as its widest cell; the last runs free."""
    rows = [tuple(safe(cell) for cell in row) for row in rows]
    if not rows:
        return ""
    widths = [max(len(row[n]) for row in rows) for n in range(len(rows[0]) - 1)]
    lines = []
    for row in rows:
        cells = [cell.ljust(width) for cell, width in zip(row[:-1], widths, strict=True)]
        lines.append((indent + "  ".join([*cells, row[-1]])).rstrip())
    return "\n".join(lines)


def public_text(days: Days | None) -> str:
    """Return when something was public, with how well that is known."""
    if days is None:
        return "no public date stated"
    if days.exact:
        return f"{days.text()} (day stated)"
    if len(days.text()) == 7:
        return f"{days.text()} (month only)"
    if len(days.text()) == 4:
        return f"{days.text()} (year only)"
    if days.first is None and days.last:
        return f"by {days.last} at the latest"
    return f"between {days.first or '?'} and {days.last or '?'}"
