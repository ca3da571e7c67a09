"""Structured data of a page: schema.org items in JSON-LD and microdata, each value with its place.

Own reading, for the place of every value is its evidence and one broken block must not cost
the page the others. The tests hold it against an independent reader.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from bs4 import BeautifulSoup
from bs4.element import Tag

MOST_ITEMS = 2_000
DEEPEST = 24
LONGEST_VALUE = 2_000
EXCERPT = 500

_WRAPPERS = re.compile(r"^\s*(?://\s*)?(?:<!--|<!\[CDATA\[)|(?://\s*)?(?:-->|\]\]>)\s*;?\s*$")
_SCHEMA = re.compile(r"^https?://(?:www\.)?schema\.org/", re.IGNORECASE)
_UNSTORABLE = re.compile("[\x00\ud800-\udfff]")
_LONGEST_NAME = 200
_FROM_SRC = frozenset({"audio", "embed", "iframe", "img", "source", "track", "video"})
_FROM_HREF = frozenset({"a", "area", "link"})


@dataclass
class Item:
    """One schema.org item. path: its place in the page. types: without the schema.org front.

    properties: name -> values in order, each a text or an Item. parent: the item it is a
    value of, and under which name.
    """

    path: str
    types: tuple[str, ...]
    properties: dict[str, list[str | Item]] = field(default_factory=dict)
    parent: Item | None = None
    as_: str = ""

    def texts(self, *names: str) -> list[str]:
        """Return the texts under the names, case aside; an item under them gives its name or url."""
        found: list[str] = []
        wanted = {name.lower() for name in names}
        for name, values in self.properties.items():
            for value in values if name.lower() in wanted else ():
                found += [value] if isinstance(value, str) else value.texts("name")[:1] or value.texts("url")
        return [text for text in found if text.strip()]

    def items(self, *names: str) -> list[Item]:
        """Return the items under the names, case aside; every nested item where none is named."""
        wanted = {name.lower() for name in names}
        return [
            value
            for name, values in self.properties.items()
            for value in values
            if isinstance(value, Item) and (not wanted or name.lower() in wanted)
        ]


@dataclass
class Unread:
    """A block that is no JSON, or too much of it."""

    path: str
    reason: str
    excerpt: str


@dataclass
class Structured:
    """All items in the order of the page, outermost first, and the blocks that could not be read."""

    items: list[Item] = field(default_factory=list)
    unread: list[Unread] = field(default_factory=list)


def read_items(soup: BeautifulSoup) -> Structured:
    """Return the page's items. Stops at MOST_ITEMS, saying so; nests DEEPEST deep at most."""
    found = Structured()
    scripts = soup.find_all("script", attrs={"type": re.compile(r"^\s*application/ld\+json", re.IGNORECASE)})
    for number, script in enumerate(scripts, 1):
        _read_block(script.get_text(), f"json-ld[{number}]", found)
    scopes = [tag for tag in soup.find_all(itemscope=True) if isinstance(tag, Tag)]
    tops = [tag for tag in scopes if not tag.has_attr("itemprop")]
    for number, tag in enumerate(tops, 1):
        _add(found, _of_scope(tag, f"microdata[{number}]", found, 0))
    return found


def all_items(roots: list[Item]) -> Iterator[Item]:
    """Yield every item, each before those nested in it."""
    waiting = list(reversed(roots))
    while waiting:
        item = waiting.pop()
        yield item
        waiting += reversed(item.items())


def _add(found: Structured, item: Item) -> None:
    if len(found.items) < MOST_ITEMS:
        found.items.append(item)
    elif not any(one.path == "items" for one in found.unread):
        found.unread.append(Unread("items", f"more than {MOST_ITEMS:,} items; the rest is not read", ""))


# --- JSON-LD ---------------------------------------------------------------------


def _read_block(text: str, path: str, found: Structured) -> None:
    try:
        data = json.loads(_WRAPPERS.sub("", text.strip()), strict=False)
    except (ValueError, RecursionError) as problem:
        reason = "nested too deep" if isinstance(problem, RecursionError) else f"no JSON: {problem}"
        found.unread.append(Unread(path, reason, text.strip()[:EXCERPT]))
        return
    for place, node in _roots(data, path):
        _add(found, _of_node(node, place, 0))


def _roots(data: Any, path: str) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield the outermost objects: of the block itself, its array, or its @graph."""
    nodes = data if isinstance(data, list) else [data]
    for number, node in enumerate(nodes, 1):
        place = f"{path}[{number}]" if isinstance(data, list) else path
        if isinstance(node, dict):
            graph = node.get("@graph")
            if set(node) - {"@context", "@graph", "@id"}:
                yield place, {name: value for name, value in node.items() if name != "@graph"}
            for at, part in enumerate(graph if isinstance(graph, list) else [graph], 1):
                if isinstance(part, dict):
                    yield f"{place}/@graph[{at}]", part


def _of_node(node: dict[str, Any], path: str, depth: int) -> Item:
    types = node.get("@type", ())
    item = Item(path, _type_names(types if isinstance(types, list) else [types]))
    for written, value in node.items():
        name = _storable(written)[:_LONGEST_NAME]
        if name in ("@type", "@context"):
            continue
        values = value if isinstance(value, list) else [value]
        for number, one in enumerate(values, 1):
            place = f"{path}/{name}[{number}]" if len(values) > 1 else f"{path}/{name}"
            _put(item, name.removeprefix("schema:"), one, place, depth)
    return item


def _put(item: Item, name: str, value: Any, place: str, depth: int) -> None:
    read: str | Item
    if isinstance(value, dict) and "@value" in value:
        read = _storable(str(value["@value"]))[:LONGEST_VALUE]
    elif isinstance(value, dict):
        if depth >= DEEPEST:
            return
        read = _of_node(value, place, depth + 1)
        read.parent, read.as_ = item, name
    elif isinstance(value, str | int | float) and not isinstance(value, bool):
        read = _storable(str(value))[:LONGEST_VALUE]
    else:
        return
    item.properties.setdefault(_SCHEMA.sub("", name), []).append(read)


def _type_names(types: list[Any]) -> tuple[str, ...]:
    texts = [_storable(one).strip()[:_LONGEST_NAME] for one in types if isinstance(one, str)]
    return tuple(_SCHEMA.sub("", text).removeprefix("schema:") for text in texts if text)


def _storable(text: str) -> str:
    """Return the text without what JSON's escapes can spell and no UTF-8 file can hold."""
    return _UNSTORABLE.sub("\ufffd", text)


# --- microdata (HTML standard, section on microdata) ------------------------------


def _of_scope(tag: Tag, path: str, found: Structured, depth: int) -> Item:
    item = Item(path, _type_names(str(tag.get("itemtype") or "").split()))
    for child in _properties(tag):
        for name in str(child.get("itemprop") or "").split():
            name = _SCHEMA.sub("", name)
            place = f"{path}/{name}"
            read: str | Item
            if child.has_attr("itemscope"):
                if depth >= DEEPEST:
                    continue
                read = _of_scope(child, place, found, depth + 1)
                read.parent, read.as_ = item, name
            else:
                read = _value(child)[:LONGEST_VALUE]
            item.properties.setdefault(name, []).append(read)
    return item


def _properties(scope: Tag) -> Iterator[Tag]:
    """Yield the scope's own properties: those not inside another scope."""
    waiting = [child for child in reversed(list(scope.children)) if isinstance(child, Tag)]
    while waiting:
        tag = waiting.pop()
        if tag.has_attr("itemprop"):
            yield tag
        if not tag.has_attr("itemscope"):
            waiting += [child for child in reversed(list(tag.children)) if isinstance(child, Tag)]


def _value(tag: Tag) -> str:
    """Return the value of a property that is no item, from where its kind of tag keeps it."""
    attribute = "content" if tag.has_attr("content") else ""
    if tag.name in _FROM_SRC:
        attribute = attribute or "src"
    elif tag.name in _FROM_HREF:
        attribute = attribute or "href"
    elif tag.name == "time" and tag.has_attr("datetime"):
        attribute = "datetime"
    elif tag.name in ("data", "meter") and tag.has_attr("value"):
        attribute = "value"
    elif tag.name == "object":
        attribute = "data"
    text = str(tag.get(attribute) or "") if attribute else tag.get_text(" ")
    return " ".join(text.split())
