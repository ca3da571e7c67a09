"""What a picture is: something to draw, and the tables and sentences that say the same."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any
from unicodedata import east_asian_width
from urllib.parse import urlencode

from pipeline.plain_text import safe

Spec = dict[str, Any]
# Longer titles are cut in a drawing; the tables beside it have room for more.
LONGEST_LABEL, LONGEST_CELL = 60, 200


@dataclass(frozen=True)
class Colours:
    """The colours of a look. topics: told apart in order, by shape as well."""

    ink: str
    quiet: str
    line: str
    paper: str
    accent: str
    states: tuple[str, str, str, str]
    topics: tuple[str, ...]
    heat: tuple[str, str]


# The page's own colours (review.css); every mark stands out from its paper by 3:1 and every
# letter by 4.5:1 (WCAG 2.2, 1.4.11 and 1.4.3), also on the darkest cell.
LIGHT = Colours(
    ink="#1f1e1b",
    quiet="#5a564e",
    line="#d9d5cb",
    paper="#fbfaf7",
    accent="#8c2a1e",
    states=("#1f5f3a", "#7a5200", "#6b675e", "#0b5563"),
    topics=("#0b5563", "#9a3f12", "#1f5f3a", "#7a2f78", "#6b5600", "#3f479e", "#9c2750", "#4d5a5a"),
    heat=("#f3f1eb", "#5fa9b8"),
)
DARK = Colours(
    ink="#e9e6df",
    quiet="#b0aca2",
    line="#35393b",
    paper="#17191a",
    accent="#f2a598",
    states=("#8fd3a8", "#e9c374", "#b0aca2", "#86cdd8"),
    topics=("#86cdd8", "#f0a07a", "#8fd3a8", "#dd9bd9", "#d8c25a", "#a9b1ff", "#f59ab8", "#a9bdbd"),
    heat=("#202325", "#1d6472"),
)


@dataclass(frozen=True)
class Look:
    """How a picture is drawn. narrow: for a screen of 390 pixels.

    live: for the browser's script: what is pointed at tells its name and leads to its page.
    """

    dark: bool = False
    narrow: bool = False
    live: bool = False

    @property
    def colours(self) -> Colours:
        """Return the colours."""
        return DARK if self.dark else LIGHT

    @property
    def width(self) -> int:
        """Return the width of the whole drawing, in pixels, as near as its labels allow."""
        return 330 if self.narrow else 1000


@dataclass(frozen=True)
class Row:
    """One line of a table. links: number of a cell -> the page it leads to."""

    cells: tuple[str, ...]
    links: Mapping[int, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Table:
    """What a picture shows, to be read."""

    caption: str
    head: tuple[str, ...]
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class Picture:
    """One picture of a matter.

    says: sentences, plain text. caution: what must be known to read it rightly, "" for nothing.
    draw: None where there is nothing to draw.
    """

    name: str
    title: str
    says: tuple[str, ...]
    tables: tuple[Table, ...] = ()
    draw: Callable[[Look], Spec] | None = None
    caution: str = ""


def label(text: str, most: int = LONGEST_LABEL) -> str:
    """Return outside text fit to stand in a drawing or cell: one line, no direction marks, cut.

    most: in letters of Latin width; the wide ones of East Asia count twice (UAX 11).
    """
    text = safe(text, most)
    room = most
    for at, letter in enumerate(text):
        room -= 2 if east_asian_width(letter) in "WF" else 1
        if room < 0:
            return text[: at - 1] + "…"
    return text or "(no title stated)"


def reference_page(reference_id: str) -> str:
    """Return the address of the reference's page."""
    return f"/reference/{reference_id}"


def list_page(**filters: str) -> str:
    """Return the address of the list of all references, judged or not, that fit the filters."""
    return f"/?{urlencode({'tag': 'all', **filters})}"


def link(reference_id: str, look: Look) -> dict[str, str]:
    """Return what makes a mark lead to its reference's page, where that works."""
    return {"href": reference_page(reference_id)} if look.live else {}
