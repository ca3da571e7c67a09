"""Answers in JSON, read with their path at hand, so that a change of shape names its place."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any, NoReturn

from connectors.connector import Quarantined
from connectors.errors import SourceChanged
from connectors.markup import clean_text, plain_text
from connectors.record import Record

_KINDS = {dict: "an object", list: "a list", str: "text", bool: "true or false", type(None): "null"}
_EXCERPT = 500
_ANY_TAG = re.compile(r"<[!/?A-Za-z][^<>]*>")


class OddShape(ValueError):
    """A value is not of the kind the manual describes. Facts are attributes."""

    def __init__(self, path: str, reason: str) -> None:
        """Keep where and why."""
        super().__init__(path, reason)
        self.path = path
        self.reason = reason

    def __str__(self) -> str:
        """Return one line: where, and what is wrong there."""
        return f"{self.path}: {self.reason}"


@dataclass(frozen=True)
class Node:
    """A value of the answer and where it stands (`message.items[3].title`).

    Missing and null are one: None. A value of another kind than asked for raises OddShape.
    """

    value: Any
    path: str

    def at(self, name: str) -> Node:
        """Return the member of that name; this must be an object."""
        return Node(self.object().get(name), f"{self.path}.{name}" if self.path else name)

    def object(self) -> dict[str, Any]:
        """Return the object, {} for none."""
        if self.value is None:
            return {}
        return self.value if isinstance(self.value, dict) else self.odd("an object")

    def each(self) -> list[Node]:
        """Return the members of the list, [] for none."""
        if self.value is None:
            return []
        members = self.value if isinstance(self.value, list) else self.odd("a list")
        return [Node(member, f"{self.path}[{index}]") for index, member in enumerate(members)]

    def raw(self) -> str:
        """Return the text letter for letter, "" for none."""
        if self.value is None:
            return ""
        return self.value if isinstance(self.value, str) else self.odd("text")

    def text(self) -> str:
        """Return the text on one line, without what can't be shown; "" for none."""
        return clean_text(self.raw())

    def plain(self) -> str:
        """Return the text on one line without markup; "" for none."""
        return plain_text(self.raw())

    def number(self) -> float | None:
        """Return the number, None for none."""
        if self.value is None or (isinstance(self.value, int | float) and not isinstance(self.value, bool)):
            return self.value
        return self.odd("a number")

    def whole(self) -> int | None:
        """Return the whole number, None for none."""
        if self.value is None or (isinstance(self.value, int) and not isinstance(self.value, bool)):
            return self.value
        return self.odd("a whole number")

    def flag(self) -> bool:
        """Return true or false; none is false."""
        return bool(self.value) if self.value is None or isinstance(self.value, bool) else self.odd("a flag")

    def odd(self, wanted: str) -> NoReturn:
        """Raise OddShape: something else than wanted stands here."""
        found = next((word for kind, word in _KINDS.items() if isinstance(self.value, kind)), "a number")
        raise OddShape(self.path, f"is {found}, not {wanted}")


def read_json(source: str, body: bytes) -> Node:
    """Return the object that is the whole body.

    Raises SourceChanged, with what came instead, for HTML, torn or absurdly nested JSON,
    numbers JSON does not know (NaN), and anything that is no object.
    """
    try:
        value = json.loads(body, parse_constant=_no_number)
    except RecursionError:
        raise SourceChanged(source, "its answer is nested too deep to be read") from None
    except ValueError as error:
        what = f"its answer is not whole JSON: {error}"[:200]
        if body.lstrip()[:1] == b"<":
            what = f"it answered with a web page or XML instead of JSON: {_beginning(body)}"
        raise SourceChanged(source, what) from None
    if not isinstance(value, dict):
        raise SourceChanged(source, f"its answer is JSON, but no object: {_beginning(body)}")
    return Node(value, "")


def read_items(
    items: Iterable[Node], read: Callable[[Node], Record]
) -> tuple[tuple[Record, ...], tuple[Quarantined, ...]]:
    """Return the records of the items and, for those of an odd shape, where and why. Loses none."""
    return read_groups(items, lambda item: (read(item),))


def read_groups(
    items: Iterable[Node], read: Callable[[Node], tuple[Record, ...]]
) -> tuple[tuple[Record, ...], tuple[Quarantined, ...]]:
    """Return the same where one item may give several records: each counts as an item of the page."""
    records: list[Record] = []
    quarantined: list[Quarantined] = []
    for item in items:
        try:
            records += read(item)
        except OddShape as odd:
            index = len(records) + len(quarantined)
            quarantined.append(Quarantined(index, odd.path, odd.reason, _excerpt(item.value)))
    return tuple(records), tuple(quarantined)


def said(body: bytes) -> str:
    """Return the beginning of an error's body on one line, without markup, for an error text."""
    return plain_text(_ANY_TAG.sub(" ", body[:2_000].decode("utf-8", "replace")))[:200]


def _no_number(name: str) -> NoReturn:
    raise ValueError(f"{name} is no JSON number")


def _beginning(body: bytes) -> str:
    return repr(clean_text(body[:400].decode("utf-8", "replace"))[:80])


def _excerpt(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False)
    return text[:_EXCERPT].encode("utf-8", "backslashreplace").decode()[:_EXCERPT]
