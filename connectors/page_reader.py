"""The bytes of a page or picture → what it states, each date with its place and who says so."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from typing import Any
from urllib.parse import unquote, urljoin, urlsplit

from connectors.connector import Quarantined
from connectors.days import Days
from connectors.page_dates import (
    Found,
    best_claim,
    meta_dates,
    modified_date,
    path_date,
    schema_dates,
    time_dates,
)
from connectors.page_items import Item, all_items
from connectors.page_markup import Markup, PictureLink, each_once, read_markup
from connectors.page_text import main_text
from connectors.picture_file import is_picture, read_picture
from connectors.record import Person, StatedDate, StatedIdentifier

MOST_DATES = 40  # of one page; a list of posts has hundreds
MOST_DETAILS = 60
_PRODUCT = ("name", "brand", "manufacturer", "model", "sku", "mpn", "gtin8", "gtin12", "gtin13", "gtin14",
            "gtin", "productID", "category", "color", "material")  # fmt: skip
_OFFER = ("price", "lowPrice", "highPrice", "offerCount", "priceCurrency", "availability", "seller",
          "priceValidUntil", "availabilityEnds", "validThrough")  # fmt: skip
_TOLD = ("productionDate", "purchaseDate", "sdDatePublished")
_REACHED_BY = frozenset(
    {"mainentity", "mainentityofpage", "itemreviewed", "offers", "hasvariant", "ispartof"}
)


@dataclass(frozen=True)
class Reading:
    """What a body states. kind: web page, picture or other. texts: as Record names them.

    dates: claims, most telling first. unread: parts that could not be read, with reasons.
    likeness, pixels_sha256: of a picture.
    """

    kind: str
    texts: dict[str, str] = field(default_factory=dict)
    people: tuple[Person, ...] = ()
    identifiers: tuple[StatedIdentifier, ...] = ()
    dates: tuple[StatedDate, ...] = ()
    details: tuple[tuple[str, str], ...] = ()
    unread: tuple[Quarantined, ...] = ()
    pictures: tuple[PictureLink, ...] = ()
    canonical: str = ""
    likeness: str = ""
    pixels_sha256: str = ""


def read_body(body: bytes, content_type: str, url: str, seen_on: date) -> Reading:
    """Return what the body states; the first bytes say what it is, its header only helps.

    url: the final address. seen_on: the day it was received. Never fails: what can't be
    read is said in details or unread.
    """
    if is_picture(body):
        return _picture(body, url, seen_on)
    if body[:1024].lstrip().startswith(b"%PDF-"):
        return _other(url, "a PDF: kept as it came, its text is not read here")
    if _is_markup(body, content_type):
        return _page(read_markup(body, content_type, url), url)
    if content_type.lower().startswith("text/plain"):
        text = read_markup(body, content_type, url).html[:100_000]
        return Reading("web page", {"title": _file_name(url), "abstract": text.replace("\0", "\ufffd")})
    return _other(url, f"{content_type or 'of no stated type'}: kept as it came, not read here")


def last_modified(headers: Any) -> tuple[StatedDate, ...]:
    """Return the Last-Modified header as a dated event, () where there is none."""
    stated = modified_date(str(headers.get("last-modified", "")))
    return (stated,) if stated else ()


def _is_markup(body: bytes, content_type: str) -> bool:
    start = body[:2048].lstrip(b"\xef\xbb\xbf \t\r\n\0").lower()
    named = content_type.split(";")[0].strip().lower() in ("text/html", "application/xhtml+xml")
    return named or start.startswith((b"<!doctype html", b"<html", b"<head")) or b"<html" in start


def _other(url: str, why: str) -> Reading:
    return Reading("other", {"title": _file_name(url)}, details=(("content", why),))


def _file_name(url: str) -> str:
    parts = urlsplit(url)
    return unquote(parts.path.rstrip("/").rpartition("/")[2]) or parts.netloc


def _picture(body: bytes, url: str, seen_on: date) -> Reading:
    read = read_picture(body, seen_on)
    details = [("picture", f"{read.format} {read.width}×{read.height} pixels")] if read.width else []
    details += [("picture", read.problem)] if read.problem else []
    details += list(read.details)
    details += [("likeness hash", read.likeness)] if read.likeness else []
    details += [("sha256 of its pixels", read.pixels_sha256)] if read.pixels_sha256 else []
    return Reading(
        "picture",
        {"title": _file_name(url)},
        dates=read.dates,
        details=tuple(details),
        likeness=read.likeness,
        pixels_sha256=read.pixels_sha256,
    )


def _page(markup: Markup, url: str) -> Reading:
    text, remark = main_text(markup.html)
    own = own_items(markup.structured.items, {url, markup.canonical})
    dates, undated = _dates(markup, own, url)
    texts = {
        "title": next((title for _, title in markup.titles), "") or _file_name(url),
        "abstract": text
        or next(iter(markup.values("citation_abstract", "og:description", "description")), ""),
        "language": markup.language,
        "venue": next(iter(markup.values("citation_journal_title", "og:site_name", "dc.source")), ""),
        "publisher": next(iter(markup.values("citation_publisher", "dc.publisher")), ""),
        "volume": next(iter(markup.values("citation_volume")), ""),
        "issue": next(iter(markup.values("citation_issue")), ""),
        "pages": "-".join(markup.values("citation_firstpage", "citation_lastpage")[:2]),
    }
    details = [*_remarks(markup, dates, remark), *_about(own), *_others(markup, own), *undated]
    return Reading(
        "web page",
        texts,
        _people(markup, own),
        _identifiers(markup),
        tuple(dates[:MOST_DATES]),
        tuple(details[:MOST_DETAILS]),
        tuple(
            Quarantined(place, one.path, one.reason, one.excerpt)
            for place, one in enumerate(markup.structured.unread, 1)
        ),
        each_once((*_item_pictures(own, url), *markup.pictures)),
        markup.canonical,
    )


def own_items(items: list[Item], addresses: Iterable[str]) -> list[Item]:
    """Return the items that are about this page, outermost first, and what those are about.

    An outermost item that gives another address as its own is about something else, as is
    whatever hangs on an item by another name than 'main entity', 'reviews' or 'offers':
    the dates of a comment, a video or a related article are not this page's.
    """
    here = {_key(address) for address in addresses if address}
    own, waiting = [], [item for item in items if not _is_elsewhere(item, here)]
    while waiting:
        item = waiting.pop(0)
        own.append(item)
        waiting += [
            nested
            for name, values in item.properties.items()
            for nested in values
            if isinstance(nested, Item) and name.lower() in _REACHED_BY and not _is_elsewhere(nested, here)
        ]
    return own


def _is_elsewhere(item: Item, here: set[str]) -> bool:
    stated = item.texts("url", "@id", "mainEntityOfPage")
    pages = [_key(text) for text in stated if text.startswith(("http://", "https://")) and "#" not in text]
    return bool(pages) and "offer" not in "".join(item.types).lower() and not here & set(pages)


def _key(address: str) -> str:
    """Return what an address names: scheme, www, fragment and last slash aside."""
    parts = urlsplit(address)
    return f"{parts.netloc.lower().removeprefix('www.')}{parts.path.rstrip('/')}?{parts.query}".rstrip("?")


def _dates(markup: Markup, own: list[Item], url: str) -> tuple[list[StatedDate], list[tuple[str, str]]]:
    """Return every date the page states of itself, once each, and the texts that are no dates."""
    of_path = path_date(urlsplit(url).path)
    of_items, undated_items = schema_dates(
        Found(name, value, f"{item.path}/{name}", item.types)
        for item in own
        for name, values in item.properties.items()
        for value in values
        if isinstance(value, str)
    )
    of_meta, undated_meta = meta_dates(markup.meta)
    stated = [*([of_path] if of_path else []), *of_meta, *of_items]
    shown: dict[Days, StatedDate] = {}
    for each in time_dates(markup.times):  # a list of posts has one each: every day once, at its first place
        shown.setdefault(each.days, each)
    stated += shown.values()
    return list(dict.fromkeys(stated)), [*undated_meta, *undated_items]


def _remarks(markup: Markup, dates: list[StatedDate], remark: str) -> list[tuple[str, str]]:
    """Return what the reader should know of the page as a whole."""
    found = []
    best = best_claim(dates)
    if best:
        found.append(("the page's own claim", f"published {best.days.text()} ({best.field}); no proof"))
    others = [each for each in dates if best and each.kind == best.kind and each != best]
    far = [each for each in others if best and _apart(each, best)]
    if far:
        told = ", ".join(dict.fromkeys(f"{each.days.text()} ({each.field})" for each in far[:6]))
        found.append(("its claims differ", told))
    if markup.canonical:
        found.append(("canonical address", markup.canonical))
    if markup.lost:
        found.append(
            ("characters lost", f"{markup.lost} were not valid {markup.charset}, as the page calls itself")
        )
    if markup.unread:
        found.append(("length", f"the last {markup.unread:,} characters of the page are kept but not read"))
    if remark:
        found.append(("text", remark))
    if len(dates) > MOST_DATES:
        found.append(("dates", f"{len(dates) - MOST_DATES} more dates on the page are not listed"))
    return found


def _apart(one: StatedDate, other: StatedDate) -> bool:
    ends = (one.days.first, one.days.last, other.days.first, other.days.last)
    if any(end is None for end in ends):
        return False
    return bool(one.days.first > other.days.last or other.days.first > one.days.last)  # type: ignore[operator]


def _about(own: list[Item]) -> list[tuple[str, str]]:
    """Return products and offers, and dates that say nothing of publication, as details."""
    found = []
    for item in own:
        is_offer = any("offer" in name.lower() for name in item.types)
        texts = {name: item.texts(name)[:3] for name in (_OFFER if is_offer else _PRODUCT)}
        told = "; ".join(f"{name} {', '.join(values)}" for name, values in texts.items() if values)
        about = {name.lower() for name in item.types} & {"product", "productmodel", "car", "vehicle"}
        if told and (is_offer or about or item.as_.lower() == "itemreviewed"):
            found.append((" ".join(item.types).lower() or "item", f"{told} ({item.path})"))
        found += [(f"{item.path}/{name}", text) for name in _TOLD for text in item.texts(name)[:1]]
    return found


def _others(markup: Markup, own: list[Item]) -> list[tuple[str, str]]:
    """Return the dates of items that are not this page's own, as details: seen, not used."""
    mine = {id(item) for item in own}
    found = []
    for item in all_items(markup.structured.items):
        if id(item) in mine:
            continue
        for name in ("datePublished", "uploadDate", "releaseDate", "dateCreated"):
            kind = " ".join(item.types) or "item"
            found += [
                (f"of another {kind} on the page", f"{name} {t} ({item.path})") for t in item.texts(name)[:1]
            ]
    return found[:20]


def _people(markup: Markup, own: list[Item]) -> tuple[Person, ...]:
    names = markup.values("citation_author") or markup.values("dc.creator.personalname", "dc.creator")
    if not names:
        names = [name for item in own for name in item.texts("author", "creator")]
    names = names or [name for name in markup.values("author", "article:author") if "://" not in name]
    return tuple(_person(name) for name in dict.fromkeys(names[:200]))


def _person(name: str) -> Person:
    family, comma, given = (part.strip() for part in name.partition(","))
    if comma and family and given and "," not in given:
        return Person(f"{given} {family}", "author", family, given)
    return Person(name.strip())


def _identifiers(markup: Markup) -> tuple[StatedIdentifier, ...]:
    wanted = (("doi", "citation_doi"), ("doi", "dc.identifier.doi"), ("arxiv", "citation_arxiv_id"),
              ("pmid", "citation_pmid"), ("isbn", "citation_isbn"), ("issn", "citation_issn"))  # fmt: skip
    found = [StatedIdentifier(scheme, text) for scheme, name in wanted for text in markup.values(name)]
    plain = [
        text for text in markup.values("dc.identifier") if re.match(r"(?:doi:|https?://doi\.org/)?10\.", text)
    ]
    return tuple(dict.fromkeys([*found, *(StatedIdentifier("doi", text) for text in plain)]))


def _item_pictures(own: list[Item], url: str) -> tuple[PictureLink, ...]:
    """Return the pictures that the page's own items name, with their captions."""
    found = []
    for item in own:
        nested = item.items("image", "photo")
        found += [
            PictureLink(urljoin(url, link), one.path, caption=" ".join(one.texts("caption", "name")[:1]))
            for one in nested
            for link in one.texts("contentUrl", "url")[:1]
        ]
        texts = [
            value
            for name in ("image", "photo")
            for value in item.properties.get(name, ())
            if isinstance(value, str)
        ]
        found += [PictureLink(urljoin(url, text), f"{item.path}/image") for text in texts]
    return tuple(found)
