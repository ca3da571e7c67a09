"""Patent numbers in free text: where they stand, and which of them can be believed."""

from __future__ import annotations

import re
from collections.abc import Iterator

from pipeline.patent_numbers import PatentNumber, UnknownNumber, parse_application, parse_publication

# Offices whose forms are distinct enough to be believed in prose without a kind behind them;
# elsewhere a post code or a standard looks the same.
_DISTINCT = frozenset("US EP WO JP CN KR DE GB FR CA AU TW".split())  # noqa: SIM905
# A Chinese post code and two research institutes' grant numbers have six.
_LEAST_DIGITS = {"CN": 7, "CA": 7, "DE": 7}
_LONGEST_LIST = 500  # characters of input that is taken for a plain list of numbers

_GROUPS = r"\d{1,13}(?:(?:[,./‐‑–-]|[ \u00a0](?:- )?)\d{1,13}){0,5}"
_KIND = r"(?:[ \u00a0.-]{0,3}\(?[A-Z]\d?\)?(?![A-Za-z0-9]))?"
_SAID = (
    r"(?i:[ .]{0,2}\b(?:patents?|pat|applications?|appl|publications?|published|publ?|provisional|serial|ser"
    r"|design|plant|reissue|nos?)\b\.?){0,6}"
)
_MENTION = re.compile(
    rf"(?<![A-Za-z0-9.])(?P<office>U\. ?S\.?(?![A-Za-z])|PCT/ ?[A-Z]{{2}}|[A-Z]{{2}}(?:/EP)?)"
    rf"(?P<said>{_SAID})"
    rf"(?P<front>[ \u00a0.:/-]{{0,3}}(?:[ABCTUY]\d?-|(?:D|RE|PP|H|S|M|T|E|I|P|U|WO)[ \u00a0]?)?)"
    rf"(?P<groups>{_GROUPS})(?P<kind>{_KIND})(?![\w])"
)
_MORE = re.compile(
    rf"(?:[,;]? ?(?:and|&)|[,;]) ?(?P<groups>\d{{1,2}},\d{{3}},\d{{3}}|\d{{4}}/\d{{7}})(?P<kind>{_KIND})"
)
_US_SERIES = re.compile(r"(?<![\w/.,-])\d\d/\d{3},\d{3}(?![\d,/])")
_US_LETTERS = re.compile(r"(?<![\w.])(?:D|RE|PP)\d{1,3},\d{3}(?: ?[SEP]\d?)?(?![\w,])")
_JAPANESE = re.compile(
    r"[特実再][許開表公願](?:第|平成|昭和|令和|平|昭|令){0,2} ?\d{1,4}(?:[-‐‑–−－]\d{1,6})?\d{0,3}号?"
)
_BETWEEN = re.compile(r"[;\n]|, |(?:,? and |,? & )")


def find_numbers(text: str) -> list[tuple[int, str, PatentNumber]]:
    """Return (place, text as written, number) of each patent number in the text, in order.

    Input that is a list of numbers and nothing else may write them in any case. In prose
    the office stands in capitals before the number, and six digits at least or a kind
    behind it; a list after `Nos.` shares its office. What is not sure is left alone.
    """
    alone = _as_list(text)
    if alone:
        return alone
    named = list(_in_prose(text))
    taken = {place for start, written, _ in named for place in range(start, start + len(written))}
    others = [found for found in _without_office(text) if found[0] not in taken]
    return sorted(named + others, key=lambda found: found[0])


def _as_list(text: str) -> list[tuple[int, str, PatentNumber]]:
    if len(text) > _LONGEST_LIST:
        return []
    pieces = [piece.strip(" .") for piece in _BETWEEN.split(text) if piece.strip(" .")]
    numbers = [_read(piece, _says_application(piece)) for piece in pieces]
    if not all(numbers):
        return []
    return [(i, p, n) for i, (p, n) in enumerate(zip(pieces, numbers, strict=True)) if n]


def _in_prose(text: str) -> Iterator[tuple[int, str, PatentNumber]]:
    taken = 0
    for match in _mentions(text):
        if match.start() < taken:
            continue
        found = _shortened(match)
        if not found:
            continue
        written, number = found
        taken = match.start() + len(written)
        yield match.start(), written, number
        if number.office == "US" and re.search(r"nos|patents", match["said"], re.IGNORECASE):
            yield from _more(text, taken)


def _without_office(text: str) -> Iterator[tuple[int, str, PatentNumber]]:
    """Yield numbers whose form alone tells the office."""
    for pattern, application in ((_US_SERIES, True), (_US_LETTERS, False), (_JAPANESE, False)):
        for match in pattern.finditer(text):
            number = _read(match[0], application)
            if number:
                yield match.start(), match[0], number


def _mentions(text: str) -> Iterator[re.Match[str]]:
    """Yield mentions; after one, look again from its second letter, as two may overlap."""
    place = 0
    while match := _MENTION.search(text, place):
        yield match
        place = match.start("groups") + 1


def _shortened(match: re.Match[str]) -> tuple[str, PatentNumber] | None:
    """Return the longest beginning of the mention that is a number, cut only at blanks."""
    application = _says_application(match["said"])
    office = re.sub(r"[. ]", "", match["office"])
    head = match.start()
    blanks = [match.start("groups") + m.start() for m in re.finditer(r"[ \u00a0]", match["groups"])]
    for end in (match.end(), match.end("groups"), *reversed(blanks)):
        written = match.string[head:end]
        digits = match.string[match.start("front") : end]
        number = _read(f"{office} {digits.strip(' .:')}".replace("(", " ").replace(")", " "), application)
        if number and _believed(number, match["said"]):
            return written, number
    return None


def _believed(number: PatentNumber, said: str) -> bool:
    if number.kind or number.series == "PCT" or re.search("pat", said, re.IGNORECASE):
        return True
    digits = sum(c.isdigit() for c in number.body())
    return number.office in _DISTINCT and digits >= _LEAST_DIGITS.get(number.office, 6)


def _more(text: str, place: int) -> Iterator[tuple[int, str, PatentNumber]]:
    while match := _MORE.match(text, place):
        number = _read(f"US {match['groups']} {match['kind']}", False)
        if not number:
            return
        yield match.start("groups"), text[match.start("groups") : match.end()], number
        place = match.end()


def _says_application(words: str) -> bool:
    """True for `Appl. No.` and the like; a published application is a publication."""
    low = words.lower()
    return (
        bool(re.search(r"appl|\bser\b|serial|provisional", low)) and "publ" not in low and "pub." not in low
    )


def _read(text: str, application: bool) -> PatentNumber | None:
    parses = (parse_application, parse_publication) if application else (parse_publication, parse_application)
    for parse in parses:
        try:
            return parse(text)
        except UnknownNumber:
            continue
    return None
