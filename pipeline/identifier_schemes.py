"""Each scheme's normal form: text as sources write it → (value, match key), or NotThat.

Sources of the rules: DOI Handbook (prefix, case), arXiv's identifier page, ISO 2108 (ISBN),
ISO 3297 (ISSN), RFC 3986 (addresses). Everything works in time linear to the text.
"""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from urllib.parse import unquote, urlsplit, urlunsplit

from pipeline.patent_numbers import UnknownNumber, parse_application, parse_publication


class NotThat(ValueError):
    """The text is no identifier of the scheme; the message says why."""


_DOI = re.compile(r"10\.\d{4,9}(?:\.\d+)*/\S+")
_DOI_FRONT = re.compile(
    r"(?:(?:https?://)?(?:www\.)?(?:dx\.)?doi\.org/|(?:doi|info:doi/|urn:doi:)[\s:]*|(?:doi:?\s*)?)+",
    re.IGNORECASE,
)
_DOI_TAIL = re.compile(r"\?(?:utm_\w+|fbclid|gclid|nosfx)=.*$", re.IGNORECASE)
_CLOSERS = {")": "(", "]": "[", "}": "{", ">": "<"}
_ASCII_LOWER = str.maketrans("ABCDEFGHIJKLMNOPQRSTUVWXYZ", "abcdefghijklmnopqrstuvwxyz")
_DOI_VERSION = re.compile(r"(?:[/.-]|(?<=\d))v(\d{1,3})$")

_ARXIV_FRONT = re.compile(
    r"(?:https?://(?:[a-z]+\.)?arxiv\.org/(?:abs|pdf|html|format|ps)/|arxiv\.org/(?:abs|pdf|html)/"
    r"|oai:arxiv\.org:|(?:https?://(?:dx\.)?doi\.org/)?10\.48550/arxiv\.|arxiv[:\s]*)",
    re.IGNORECASE,
)
_ARXIV_NEW = re.compile(r"(\d\d(?:0[1-9]|1[0-2])\.\d{4,5})(?:v([1-9]\d{0,2}))?")
_ARXIV_OLD = re.compile(
    r"([a-z]+(?:-[a-z]+)?)(?:\.[a-z]{2})?/(\d\d(?:0[1-9]|1[0-2])\d{3})(?:v([1-9]\d{0,2}))?"
)
_ARXIV_DOI = re.compile(r"10\.48550/arxiv\.(\S+)", re.IGNORECASE)

_TRACKING = re.compile(r"(?:utm_\w*|fbclid|gclid)", re.IGNORECASE)
_PORTS = {"http": 80, "https": 443}


def strip_tail(text: str) -> str:
    """Return the text without the punctuation and unpaired brackets a sentence put behind it."""
    end = len(text)
    opened = {close: text.count(open_) - text.count(close) for close, open_ in _CLOSERS.items()}
    while end:
        last = text[end - 1]
        if last in ".,;:!?'\"”’»…" or last.isspace():
            end -= 1
        elif opened.get(last, 0) < 0:
            opened[last] += 1
            end -= 1
        else:
            break
    return text[:end]


def doi(text: str) -> tuple[str, str]:
    """Return the DOI without resolver and prefix, ASCII letters in lower case; key the same.

    Percent codes and entities are undone, however often they were put on.
    """
    before = None
    while before != text:
        before = text
        text = html.unescape(unquote(text, errors="strict") if _percent_codes_are_text(text) else text)
        text = _DOI_FRONT.sub("", text, count=1) if not text.startswith("10.") else text
        text = strip_tail(_DOI_TAIL.sub("", text.strip()))
    if not _DOI.fullmatch(text):
        raise NotThat("a DOI is 10., four to nine digits, a slash and a suffix without blanks")
    value = text.translate(_ASCII_LOWER)
    return value, value


def _percent_codes_are_text(text: str) -> bool:
    if "%" not in text:
        return False
    try:
        return unquote(text, errors="strict").isprintable()
    except UnicodeDecodeError:
        return False


def doi_version(value: str) -> tuple[str, str | None]:
    """Return the DOI's base and the version its suffix ends in (/v1, .v2, -v3, 12v4), or None.

    That two DOIs of one base are versions of one work is how servers number, not a rule of
    the DOI system: an inference to be shown as one.
    """
    found = _DOI_VERSION.search(value)
    if not found or "/" not in value[: found.start()]:
        return value, None
    return value[: found.start()], found.group(1)


def arxiv(text: str) -> tuple[str, str]:
    """Return the arXiv number with its version as given; the key is without version and subject class."""
    front = _ARXIV_FRONT.match(text)
    rest = text[front.end() :] if front else text
    rest = strip_tail(re.sub(r"\s*\[[\w.-]{2,20}\]$", "", rest.strip())).lower().removesuffix(".pdf")
    new = _ARXIV_NEW.fullmatch(rest)
    if new:
        return rest, new.group(1)
    old = _ARXIV_OLD.fullmatch(rest)
    if old:
        key = f"{old.group(1)}/{old.group(2)}"
        return key + (f"v{old.group(3)}" if old.group(3) else ""), key
    raise NotThat("an arXiv number is YYMM.NNNNN or archive/YYMMNNN, vN behind it for a version")


def arxiv_of_doi(value: str) -> str | None:
    """Return the arXiv number that a 10.48550/arXiv DOI stands for, else None."""
    found = _ARXIV_DOI.fullmatch(value)
    if not found:
        return None
    try:
        return arxiv(found.group(1))[0]
    except NotThat:
        return None


def pmid(text: str) -> tuple[str, str]:
    """Return the PubMed number: one to eight digits, no leading zeros."""
    return _digits(text, r"(?:https?://(?:www\.)?(?:pubmed\.ncbi\.nlm\.nih\.gov|ncbi\.nlm\.nih\.gov/pubmed)/"
                   r"|info:pmid/|(?:pubmed|pmid)[\s:]*)?0{0,8}([1-9][0-9]{0,7})/?",
                   "", "a PMID is one to eight digits")  # fmt: skip


def pmcid(text: str) -> tuple[str, str]:
    """Return the PubMed Central number with PMC before it, a version behind it left off."""
    return _digits(text, r"(?:https?://(?:www\.|pmc\.)?ncbi\.nlm\.nih\.gov/(?:pmc/)?articles/)?"
                   r"(?:pmcid[\s:]*)?(?:pmc)?[\s:]*0{0,8}([1-9][0-9]{0,8})(?:\.\d{1,3})?/?", "PMC",
                   "a PMCID is PMC and one to nine digits")  # fmt: skip


def openalex(text: str) -> tuple[str, str]:
    """Return the OpenAlex number of a work, W and digits."""
    return _digits(text, r"(?:https?://(?:api\.)?openalex\.org/(?:works/)?|openalex[\s:]*)?w([1-9][0-9]{0,14})",
                   "W", "an OpenAlex work is W and digits")  # fmt: skip


def _digits(text: str, pattern: str, front: str, rule: str) -> tuple[str, str]:
    found = re.fullmatch(pattern, strip_tail(text), re.IGNORECASE)
    if not found:
        raise NotThat(rule)
    return front + found.group(1), front + found.group(1)


def isbn(text: str) -> tuple[str, str]:
    """Return the ISBN as 13 digits; ten-digit numbers are converted (ISO 2108)."""
    plain = re.sub(r"^(?:urn:isbn:|e?isbn(?:-1[03])?[\s:]*)", "", text, flags=re.IGNORECASE)
    digits = re.sub(r"[\s‐‑–-]", "", strip_tail(plain)).upper()
    if re.fullmatch(r"[0-9]{9}[0-9X]", digits):
        total = sum(w * (10 if c == "X" else int(c)) for w, c in zip(range(10, 0, -1), digits, strict=True))
        if total % 11:
            raise NotThat("the check digit of the ISBN-10 does not fit")
        digits = "978" + digits[:9]
        digits += str(-sum(int(c) * (1, 3)[i % 2] for i, c in enumerate(digits)) % 10)
    if not re.fullmatch(r"97[89][0-9]{10}", digits):
        raise NotThat("an ISBN is ten digits, or thirteen that begin 978 or 979")
    if sum(int(c) * (1, 3)[i % 2] for i, c in enumerate(digits)) % 10:
        raise NotThat("the check digit of the ISBN does not fit")
    return digits, digits


def issn(text: str) -> tuple[str, str]:
    """Return the ISSN as NNNN-NNNC (ISO 3297)."""
    plain = re.sub(r"^(?:urn:issn:|https?://portal\.issn\.org/resource/issn/|[ep]?-?issn(?:-l)?[\s:]*)", "",
                   text, flags=re.IGNORECASE)  # fmt: skip
    digits = re.sub(r"[\s‐‑–-]", "", strip_tail(plain)).upper()
    if not re.fullmatch(r"[0-9]{7}[0-9X]", digits):
        raise NotThat("an ISSN is eight digits, the last may be X")
    if sum(w * (10 if c == "X" else int(c)) for w, c in zip(range(8, 0, -1), digits, strict=True)) % 11:
        raise NotThat("the check digit of the ISSN does not fit")
    value = f"{digits[:4]}-{digits[4:]}"
    return value, value


def url(text: str) -> tuple[str, str]:
    """Return the address with scheme and host in lower case; the key is what it names.

    Key: http and https alike, no default port, no fragment, no known tracking parameters,
    the other parameters in their order, no slash at the end of the path.
    """
    try:
        parts = urlsplit(text if "://" in text or ":" in text.split("/")[0] else f"https://{text}")
        port = parts.port
    except ValueError:
        raise NotThat("the address can't be taken apart") from None
    if parts.scheme.lower() not in _PORTS:
        raise NotThat(f"only http and https addresses are kept, not {parts.scheme[:20] or 'this'}")
    host = (parts.hostname or "").rstrip(".")
    named = "." in host or host == "localhost" or ":" in host
    if not named or re.search(r"[\s<>\"\\]", text):
        raise NotThat("an address has a host with a dot and no blanks, quotes or angle brackets")
    host = f"[{host}]" if ":" in host else host
    place = host + ("" if port in (None, _PORTS[parts.scheme.lower()]) else f":{port}")
    kept = [pair for pair in parts.query.split("&") if not _TRACKING.fullmatch(pair.partition("=")[0])]
    query = "&".join(kept) if parts.query else ""
    value = urlunsplit((parts.scheme.lower(), place, parts.path, parts.query, parts.fragment))
    key = urlunsplit(("", place, parts.path.rstrip("/"), query, ""))
    return value, key.removeprefix("//")


def publication(text: str) -> tuple[str, str]:
    """Return a publication number's normal form and key (see patent_numbers)."""
    try:
        number = parse_publication(text)
    except UnknownNumber as refused:
        raise NotThat(str(refused)) from None
    return number.normal(), number.match_key()


def application(text: str) -> tuple[str, str]:
    """Return an application number's normal form and key (see patent_numbers)."""
    try:
        number = parse_application(text)
    except UnknownNumber as refused:
        raise NotThat(str(refused)) from None
    return number.normal(), number.match_key()


def family(text: str) -> tuple[str, str]:
    """Return a source's own family number as it stands; it means nothing beside another source's."""
    if not text:
        raise NotThat("the family number is empty")
    return text, text


SCHEMES: dict[str, Callable[[str], tuple[str, str]]] = {
    "doi": doi,
    "arxiv": arxiv,
    "pmid": pmid,
    "pmcid": pmcid,
    "openalex": openalex,
    "isbn": isbn,
    "issn": issn,
    "url": url,
    "publication": publication,
    "application": application,
    "family": family,
}
