"""The parts of an HTML page that evidence is read from: each value with its place in the page."""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterable
from dataclasses import dataclass
from urllib.parse import urljoin, urlsplit

from bs4 import BeautifulSoup, MarkupResemblesLocatorWarning, XMLParsedAsHTMLWarning
from bs4.element import Tag
from w3lib.encoding import html_to_unicode
from w3lib.html import get_base_url

from connectors.page_dates import Found
from connectors.page_items import Structured, read_items

MOST_TAGS = 2_000  # meta tags, times and pictures looked at, of each
SMALLEST = 80  # pixels a side, where a page says so: below it is an icon or a counter
LONGEST_TEXT = 200_000
LONGEST_PAGE = 2_000_000  # characters of markup that are read: five million cost a reader 12 s

_SPACER = re.compile(r"(?:^|[/_.-])(?:spacer|pixel|blank|sprite|icon|favicon|logo|avatar)(?:[/_.-]|$)", re.I)


@dataclass(frozen=True)
class PictureLink:
    """A picture that a page shows. url: absolute. where: which part of the page names it."""

    url: str
    where: str
    alt: str = ""
    title: str = ""
    caption: str = ""


@dataclass(frozen=True)
class Markup:
    """What stands in a page. charset: as decoded; lost: characters that were not valid in it;
    unread: characters past LONGEST_PAGE.

    meta: name (lower case) and content of meta tags. times: <time> elements. canonical: the
    address the page gives as its own, "" where none.
    """

    html: str
    charset: str
    lost: int
    unread: int
    language: str
    titles: tuple[tuple[str, str], ...]
    canonical: str
    meta: tuple[Found, ...]
    times: tuple[Found, ...]
    structured: Structured
    pictures: tuple[PictureLink, ...]

    def values(self, *names: str) -> list[str]:
        """Return the contents of the meta tags with these names, in the order of the names."""
        return [tag.text for name in names for tag in self.meta if tag.name == name and tag.text]


def read_markup(body: bytes, content_type: str, url: str) -> Markup:
    """Return the parts of the page. Never fails: what is no HTML has few parts.

    content_type: the header as received. url: the final address, for relative links. Charset
    order: byte order mark, header, the page's own word, else UTF-8 or windows-1252; labels
    mean what browsers take them to mean.
    """
    charset, whole = html_to_unicode(content_type or None, body, auto_detect_fun=_guess)
    text = whole[:LONGEST_PAGE]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", XMLParsedAsHTMLWarning)
        warnings.simplefilter("ignore", MarkupResemblesLocatorWarning)
        soup = BeautifulSoup(text, "lxml")
    base = get_base_url(text[:100_000], url)
    meta = _meta(soup)
    root = soup.find("html")
    return Markup(
        html=text,
        charset=charset,
        lost=whole.count("\ufffd"),
        unread=len(whole) - len(text),
        language=str(root.get("lang") or "")[:20] if isinstance(root, Tag) else "",
        titles=_titles(soup, meta),
        canonical=_canonical(soup, meta, base),
        meta=meta,
        times=_times(soup),
        structured=read_items(soup),
        pictures=_pictures(soup, meta, base),
    )


def _guess(body: bytes) -> str:
    try:
        body.decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"


def _meta(soup: BeautifulSoup) -> tuple[Found, ...]:
    found = []
    for tag in soup.find_all("meta", limit=MOST_TAGS):
        for attribute in ("name", "property", "itemprop", "http-equiv"):
            name = " ".join(str(tag.get(attribute) or "").split())
            content = " ".join(str(tag.get("content") or "").split())
            if name and content:
                path = f'meta[{attribute}="{name}"]'
                found.append(Found(name.lower(), content[:LONGEST_TEXT], path))
    return tuple(found)


def _titles(soup: BeautifulSoup, meta: tuple[Found, ...]) -> tuple[tuple[str, str], ...]:
    """Return (place, title) of every title, the one most exactly the document's own first."""
    wanted = ("citation_title", "dc.title", "dcterms.title", "og:title")
    found = [(tag.path, tag.text) for name in wanted for tag in meta if tag.name == name]
    for name in ("title", "h1"):
        tag = soup.find(name)
        found += [(name, " ".join(tag.get_text(" ").split()))] if isinstance(tag, Tag) else []
    return tuple((place, text[:1_000]) for place, text in found if text)


def _canonical(soup: BeautifulSoup, meta: tuple[Found, ...], base: str) -> str:
    """Return the absolute canonical link, else og:url, else ""."""
    for tag in soup.find_all("link", href=True, limit=MOST_TAGS):
        rel = tag.get("rel") or ()
        if "canonical" in [word.lower() for word in ([rel] if isinstance(rel, str) else rel)]:
            return _absolute(base, str(tag["href"]))
    return next((_absolute(base, tag.text) for tag in meta if tag.name == "og:url"), "")


def _times(soup: BeautifulSoup) -> tuple[Found, ...]:
    found = []
    for number, tag in enumerate(soup.find_all("time", limit=MOST_TAGS), 1):
        text = str(tag.get("datetime") or "") or tag.get_text(" ")
        found.append(Found("time", " ".join(text.split())[:100], f"time[{number}]"))
    return tuple(found)


def _pictures(soup: BeautifulSoup, meta: tuple[Found, ...], base: str) -> tuple[PictureLink, ...]:
    """Return the pictures: what the page calls its picture first, then in order."""
    links = [
        PictureLink(_absolute(base, tag.text), tag.path) for tag in meta if tag.name in ("og:image", "image")
    ]
    for number, tag in enumerate(soup.find_all("img", limit=MOST_TAGS), 1):
        url = _absolute(base, _picture_source(tag))
        alt, title = (" ".join(str(tag.get(name) or "").split())[:1_000] for name in ("alt", "title"))
        link = PictureLink(url, f"img[{number}]", alt, title, _caption(tag))
        if url and not _is_small(tag) and not (_SPACER.search(urlsplit(url).path) and not link.caption):
            links.append(link)
    return tuple(links)


def each_once(links: Iterable[PictureLink]) -> tuple[PictureLink, ...]:
    """Return each address once, at its first place, with the first words that are said of it."""
    once: dict[str, PictureLink] = {}
    for link in links:
        known = once.get(link.url)
        if link.url and (known is None or not (known.alt or known.caption)):
            once[link.url] = link
    return tuple(once.values())


def _picture_source(tag: Tag) -> str:
    """Return the picture's address: lazy pages keep it in data-*, others in src or srcset."""
    for name in ("data-src", "data-original", "data-lazy-src", "src"):
        text = str(tag.get(name) or "").strip()
        if text and not text.startswith("data:"):
            return text
    return str(tag.get("srcset") or tag.get("data-srcset") or "").split(",")[0].split(" ")[0]


def _caption(tag: Tag) -> str:
    figure = tag.find_parent("figure")
    caption = figure.find("figcaption") if isinstance(figure, Tag) else None
    return " ".join(caption.get_text(" ").split())[:2_000] if isinstance(caption, Tag) else ""


def _is_small(tag: Tag) -> bool:
    sides = [str(tag.get(name) or "").removesuffix("px") for name in ("width", "height")]
    return any(side.isdigit() and int(side[:6]) < SMALLEST for side in sides)


def _absolute(base: str, link: str) -> str:
    """Return the link as an absolute http(s) address, else ""."""
    if not link.strip():
        return ""
    try:
        url = urljoin(base, link.strip())
        return url if urlsplit(url).scheme in ("http", "https") else ""
    except ValueError:
        return ""
