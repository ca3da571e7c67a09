"""What the list is narrowed to: read from the address, so that a view can be bookmarked."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from datetime import date
from urllib.parse import urlencode

from connectors.days import parse_days
from pipeline.decisions import TAGS
from pipeline.errors import NotFound
from pipeline.judging import OUTCOMES

# Value in the address -> what stands in the menu.
TAG_CHOICES = {"open": "not judged yet", "all": "all", "judged": "judged", **{tag: tag for tag in TAGS}}
ORDERS = {"best": "best first", "oldest": "earliest public first", "newest": "latest public first"}
PAGE = 50


@dataclass(frozen=True)
class Filters:
    """The filters of a list; "" is none.

    text: words that must all stand in title, abstract, people, place or number; "two words"
    in quotes as they stand. run: its id, or latest. least: closeness to the element, in
    hundredths. since, until: the public days may lie between, both included. as_of: tags
    count as they stood at that decision, so that judging does not move the list; -1 is now.
    """

    text: str = ""
    tag: str = "open"
    kind: str = ""
    source: str = ""
    topic: str = ""
    office: str = ""
    verdict: str = ""
    element: str = ""
    least: int = 0
    since: str = ""
    until: str = ""
    run: str = ""
    order: str = "best"
    page: int = 1
    as_of: int = -1

    @property
    def narrowing(self) -> dict[str, str]:
        """Return the filters set, tag, order and place in the list aside."""
        aside = ("tag", "order", "page", "as_of")
        return {name: text for name, text in self.set_values().items() if name not in aside}

    def set_values(self) -> dict[str, str]:
        """Return name and value of every filter that differs from none, as the address has them."""
        standard = Filters()
        values = {each.name: getattr(self, each.name) for each in fields(self)}
        return {name: str(value) for name, value in values.items() if value != getattr(standard, name)}

    def address(self, **changed: object) -> str:
        """Return the address of the list with these filters, some of them changed."""
        values = replace(self, **changed).set_values()  # type: ignore[arg-type]
        return "/?" + urlencode(values) if values else "/"


def read_filters(asked: Mapping[str, str], offices: tuple[str, ...], elements: Mapping[str, str]) -> Filters:
    """Return the filters that the address asks for. Raises NotFound, naming what is not known."""
    standard = Filters()
    values: dict[str, str | int] = {}
    for each in fields(Filters):
        text = asked.get(each.name, "").strip()
        if not text:
            continue
        values[each.name] = (
            _number(each.name, text) if isinstance(getattr(standard, each.name), int) else text
        )
    filters = Filters(**values)  # type: ignore[arg-type]
    for name, known in (
        ("tag", tuple(TAG_CHOICES)),
        ("order", tuple(ORDERS)),
        ("office", ("", *offices)),
        ("verdict", ("", *OUTCOMES)),
        ("element", ("", *elements)),
    ):
        value = getattr(filters, name)
        if value not in known:
            raise NotFound(f"{name} {value!r} is not known; known: {', '.join(filter(None, known))}")
    for name in ("since", "until"):
        public_limit(filters, name)
    # A verdict is one office's: without one named, the first is meant.
    if filters.verdict and not filters.office and offices:
        filters = replace(filters, office=offices[0])
    return replace(filters, page=max(filters.page, 1))


def public_limit(filters: Filters, name: str) -> date | None:
    """Return the first day of `since` or the last of `until`, None where not set. Raises NotFound."""
    text = getattr(filters, name)
    days = parse_days(text) if text else None
    if text and days is None:
        raise NotFound(f"{name} {text!r} is no day; write 2026-03-04, 2026-03 or 2026")
    if days is None:
        return None
    return days.first if name == "since" else days.last


Condition = tuple[str, list[object]]
# l: listed, t: the tag as of the decision asked for, m: closeness to the element, the first parameter.
FROM_LISTED = """listed l LEFT JOIN tagged t USING (reference_id)
    LEFT JOIN (SELECT * FROM matched WHERE element = ?) m USING (reference_id)"""


def conditions(filters: Filters, latest_run: str) -> Condition:
    """Return the SQL condition on listed (l), now judged (t), and the values of its parameters."""
    run = latest_run if filters.run == "latest" else filters.run
    simple: tuple[tuple[str, str, list[object]], ...] = (
        (filters.kind, "l.kind = ?", [filters.kind]),
        (filters.topic, "l.topic = ?", [filters.topic]),
        (filters.source, "list_contains(l.sources, ?)", [filters.source]),
        (filters.run, "l.first_run = ?", [run]),
        (filters.verdict, _VERDICT, [filters.office, filters.verdict]),
        (filters.element, _ELEMENT, [filters.element, filters.least / 100]),
    )
    parts: list[Condition] = [
        _TAGS.get(filters.tag, ("t.tag = ?", [filters.tag])),
        *_words(filters.text),
        *((sql, values) for wanted, sql, values in simple if wanted),
        *_public(filters),
    ]
    return " AND ".join(sql for sql, _ in parts), [value for _, values in parts for value in values]


def _words(text: str) -> list[Condition]:
    return [("contains(l.text, lower(strip_accents(?)))", [word]) for word in search_words(text)]


def _public(filters: Filters) -> list[Condition]:
    """Return what keeps references that may have become public between the days; unknown ones go."""
    since, until = public_limit(filters, "since"), public_limit(filters, "until")
    parts: list[Condition] = []
    if since or until:
        parts.append(("coalesce(l.public_from, l.public_to) IS NOT NULL", []))
    if since:
        parts.append(("coalesce(l.public_to >= ?, TRUE)", [since]))
    if until:
        parts.append(("coalesce(l.public_from <= ?, TRUE)", [until]))
    return parts


def ordering(filters: Filters, table: str) -> str:
    """Return the SQL order of the table. By an element where one is chosen and nothing else is asked."""
    best = f"{table}.place = 0, {table}.place, {table}.reference_id"
    if filters.order == "oldest":
        return f"{table}.public_to NULLS LAST, {table}.public_from, {best}"
    if filters.order == "newest":
        return f"{table}.public_from DESC NULLS LAST, {table}.public_to DESC, {best}"
    return f"{table}.closeness DESC NULLS LAST, {best}" if filters.element else best


def search_words(text: str) -> list[str]:
    """Return the words, and the phrases in quotes, to look for."""
    return [phrase or word for phrase, word in re.findall(r'"([^"]+)"|([^\s"]+)', text)][:20]


_TAGS: dict[str, Condition] = {
    "open": ("t.tag IS NULL", []),
    "all": ("TRUE", []),
    "judged": ("t.tag IS NOT NULL", []),
}
_VERDICT = "l.reference_id IN (SELECT reference_id FROM outcome WHERE office = ? AND outcome = ?)"
_ELEMENT = "l.reference_id IN (SELECT reference_id FROM matched WHERE element = ? AND closeness >= ?)"


def _number(name: str, text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) < 10):
        raise NotFound(f"{name} {text!r} is not a number")
    return int(text)
