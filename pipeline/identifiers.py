"""Identifiers: text as a source or a user writes it → scheme, normal form and match key."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from pipeline.identifier_schemes import SCHEMES, NotThat, strip_tail
from pipeline.identifier_schemes import arxiv_of_doi as arxiv_of_doi
from pipeline.identifier_schemes import doi_version as doi_version
from pipeline.patent_mentions import find_numbers

LONGEST = 2000  # characters; addresses longer than this are not kept by browsers either
_CUT = "…"
_UNSEEN = re.compile(r"[\x00-\x1f\x7f-\x9f\u00ad\u200b-\u200f\u2028-\u202e\u2060-\u2069\ufeff\ud800-\udfff]+")


@dataclass(frozen=True)
class Identifier:
    """What names a document.

    value: the normal form, or the cleaned text where there is a problem. match_key: equal
    keys of one scheme name the same thing; "" where there is a problem, and then it matches
    nothing. A publication's key stands for all kinds of that number. text: as written.
    problem: why the text is not in normal form, else "".
    """

    scheme: str
    value: str
    match_key: str
    text: str
    problem: str = ""


def normalise(scheme: str, text: str) -> Identifier:
    """Return the identifier that the text is under the scheme; a problem instead of an error.

    Normalising a value again changes nothing. Whatever the text holds, value and text are
    bounded and printable: control and invisible characters go, longer texts end in '…'.
    """
    kept = _cleaned(text)
    form = SCHEMES.get(scheme)
    if form is None:
        return Identifier(scheme, kept, "", kept, f"unknown scheme; the known are {', '.join(SCHEMES)}")
    if kept.endswith(_CUT):
        return Identifier(scheme, kept, "", kept, "the text was cut short")
    try:
        value, key = form(kept)
    except NotThat as problem:
        return Identifier(scheme, kept, "", kept, str(problem))
    return Identifier(scheme, value, key, kept)


def _cleaned(text: str) -> str:
    cut = len(text) > LONGEST
    kept = text[:LONGEST]
    if not (kept.isascii() and kept.isprintable()):
        kept = _UNSEEN.sub(" ", kept)
    kept = " ".join(kept.split())
    return kept[:200].rstrip() + _CUT if cut or len(kept) > LONGEST else kept


# Free text, in this order; what one has taken the next does not see. A DOI of the old kind
# may hold one angle bracket with digits behind it (SICI); any other begins a tag.
_MARKS = tuple(
    (scheme, re.compile(pattern, re.IGNORECASE))
    for scheme, pattern in (
        ("arxiv", r"(?:https?://)?(?:\w{1,10}\.)?arxiv\.org/(?:abs|pdf|html)/[\w.-]{1,30}(?:/\d{7}(?:v\d{1,3})?)?"),
        ("arxiv", r"\barxiv:\s?[a-z.-]{0,20}/?\d{4}[\d.]{1,8}(?:v\d{1,3})?"),
        ("doi", r"(?:https?://(?:dx\.|www\.)?doi\.org/|(?<![\w./])(?:doi:\s?)?)10\.\d{4,9}(?:\.\d{1,9}){0,3}"
                r"(?:/|%2f)[^\s\"'“”<>]{1,300}(?:<[^\s\"'“”/a-z][^\s\"'“”]{0,200})?"),
        ("pmid", r"(?:https?://pubmed\.ncbi\.nlm\.nih\.gov/|\bpmid:?\s?)\d{1,8}\b"),
        ("pmcid", r"(?:https?://[\w.]{0,30}ncbi\.nlm\.nih\.gov/(?:pmc/)?articles/)?\bPMC\d{1,9}\b"),
        ("openalex", r"(?:https?://(?:api\.)?openalex\.org/(?:works/)?W|(?<![\w.])W(?=\d{8,15}\b))\d{1,15}\b"),
        ("url", r"\bhttps?://[^\s\"'<>“”]{1,1900}"),
        ("isbn", r"\bISBN(?:-1[03])?:?\s?(?:97[89][- ]?)?\d[\d -]{7,12}[\dX]\b"
                 r"|(?<![\d-])97[89]-\d[\d-]{9,12}\d(?![\d-])"),
        ("issn", r"\b[ep]?-?ISSN(?:-L)?:?\s?\d{4}-?\d{3}[\dX]\b"),
    )
)  # fmt: skip
# Too short or too common for prose; believed where they are all that was written.
_ALONE = ("arxiv", "isbn")


def recognise(text: str) -> list[Identifier]:
    """Return the identifiers found in free text or user input, in the order written, each once.

    Several numbers are told apart. A patent number needs its office before it; a list
    behind `U.S. Pat. Nos.` shares one. A DOI that arXiv registered is returned as DOI and as
    arXiv number. [] where nothing is found: no number is guessed at.
    """
    found: list[tuple[int, Identifier]] = []
    left = "\n".join(_UNSEEN.sub(" ", line) for line in text[:100_000].splitlines())
    for scheme, mark in _MARKS:
        for match in mark.finditer(left):
            identifier = normalise(scheme, strip_tail(match.group(0)))
            if not identifier.problem:
                found.append((match.start(), identifier))
                left = left[: match.start()] + "\n" * len(match.group(0)) + left[match.end() :]
    found += _patents(left)
    if not found and len(text) < 100:
        found = [(0, alone) for scheme in _ALONE if not (alone := normalise(scheme, text)).problem]
    once: dict[tuple[str, str], Identifier] = {}
    for identifier in _with_twins(identifier for _, identifier in sorted(found, key=lambda f: f[0])):
        once.setdefault((identifier.scheme, identifier.value), identifier)
    return list(once.values())


def _with_twins(identifiers: Iterator[Identifier]) -> Iterator[Identifier]:
    for identifier in identifiers:
        yield identifier
        twin = arxiv_of_doi(identifier.value) if identifier.scheme == "doi" else None
        if twin:
            yield Identifier("arxiv", *SCHEMES["arxiv"](twin), identifier.text)


def _patents(text: str) -> list[tuple[int, Identifier]]:
    return [
        (place, Identifier(number.role, number.normal(), number.match_key(), strip_tail(written.strip())))
        for place, written, number in find_numbers(text)
    ]
