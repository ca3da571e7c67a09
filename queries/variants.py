"""The forms of a term: number, hyphen, blank or joined, British and American spelling."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

from queries.concept import Term
from queries.plurals import plurals, singulars
from queries.spellings import to_american, to_british

MOST_FORMS = 24  # a source takes 10 to 100 words a query; the rarest combinations go first

_HYPHENS = re.compile("[\u2010-\u2015\u2212\ufe58\ufe63\uff0d-]")
_PIECES = re.compile(r"\w+|\W+")
_PLAIN_WORD = re.compile("[A-Za-z]+")
# The head of a phrase stands before these, and they take no hyphen.
_SMALL_WORDS = (
    "a", "an", "and", "as", "at", "between", "by", "for", "from", "in", "into", "of", "on", "onto", "or",
    "over", "per", "the", "to", "under", "via", "with",
)  # fmt: skip
# What people write joined to the next word: short first parts, and these longer ones.
_LONGEST_FIRST_PART = 6
_FIRST_PARTS = ("counter", "electro", "magneto", "spectro")
_NEVER_JOINED = ("self", "well", "high", "low", "all")

Change = tuple[str, str]  # the new text, and why it is a form


def forms(term: Term) -> tuple[str, ...]:
    """Return the forms under which a term is searched, as written first, at most MOST_FORMS.

    Then the forms with one change, then those with two, then three; beyond the limit the
    forms with most changes are left out. Equal but for case counts as equal. Only words
    of ASCII letters are changed; acronyms get at most a plural s (LEDs), formulas,
    numbers and other scripts stay as written.
    """
    return tuple(form for form, _ in explain_forms(term))


def explain_forms(term: Term) -> tuple[Change, ...]:
    """Return each form of the term with what makes it one, in the order of `forms`."""
    written = " ".join(term.text.split())
    found: dict[str, tuple[str, tuple[str, ...]]] = {written.casefold(): (written, ())}
    kinds: list[Callable[[str], Iterator[Change]]] = []
    kinds += [_spellings] if term.spelling else []
    kinds += [_numbers] if term.plural else []
    kinds += [_hyphens] if term.hyphen else []
    for changes in kinds:
        for text, reasons in tuple(found.values()):
            for form, reason in changes(text):
                found.setdefault(form.casefold(), (form, (*reasons, reason)))
    ordered = sorted(found.values(), key=lambda each: len(each[1]))
    return tuple((form, ", ".join(reasons) or "as written") for form, reasons in ordered[:MOST_FORMS])


def _spellings(text: str) -> Iterator[Change]:
    for convert, reason in ((to_british, "British spelling"), (to_american, "American spelling")):
        pieces = [_in_case(piece, convert) for piece in _PIECES.findall(text)]
        if "".join(pieces) != text:
            yield "".join(pieces), reason


def _in_case(word: str, convert: Callable[[str], str]) -> str:
    """Return the word converted in its own case; words in mixed or all capitals are names."""
    if not _PLAIN_WORD.fullmatch(word):
        return word
    if word.islower():
        return convert(word)
    return convert(word.lower()).capitalize() if word.istitle() and len(word) > 1 else word


def _numbers(text: str) -> Iterator[Change]:
    """Yield the text with its head in the other number.

    The head is the last word, or the last before 'of', 'for' and the like; 'in situ'
    and 'state-of-the-art' have none.
    """
    parts = re.split(r"(\s+|[\u2010-\u2015-])", text)
    small = [place for place, part in enumerate(parts) if part.casefold() in _SMALL_WORDS]
    if len(parts) > 1 and small and (small[0] == 0 or not parts[small[0] - 1].isspace()):
        return
    head = small[0] - 2 if small and len(parts) > 1 else len(parts) - 1
    for other, reason in _other_numbers(parts[head]):
        yield "".join((*parts[:head], other, *parts[head + 1 :])), reason


def _other_numbers(word: str) -> list[Change]:
    if re.fullmatch("[A-Z]{2,6}", word):
        return [] if word.endswith("S") else [(word + "s", "plural")]
    if re.fullmatch("[A-Z]{2,6}s", word):
        return [(word[:-1], "singular")]
    if not _PLAIN_WORD.fullmatch(word) or not (word.islower() or word.istitle()):
        return []
    found = [(form, "plural") for form in plurals(word.lower())]
    found += [(form, "singular") for form in singulars(word.lower())]
    return [(form.capitalize() if word.istitle() else form, reason) for form, reason in found]


def _hyphens(text: str) -> Iterator[Change]:
    if not any("a" <= letter <= "z" for letter in text.lower()):
        return
    if _HYPHENS.search(text):
        yield " ".join(_HYPHENS.sub(" ", text).split()), "blank for hyphen"
        yield from _joined(text)
    else:
        yield from _hyphenated(text.split())


def _joined(text: str) -> Iterator[Change]:
    """Yield the text with each word of one hyphen joined, where both sides are plain words."""
    changed = " ".join(_join(part) for part in text.split())
    if changed != " ".join(text.split()):
        yield changed, "joined"


def _join(word: str) -> str:
    sides = _HYPHENS.split(word)
    if len(sides) != 2 or not all(_PLAIN_WORD.fullmatch(side) for side in sides):
        return word
    first = sides[0].lower()
    named = any(len(side) > 1 and side.isupper() for side in sides)
    joinable = len(first) <= _LONGEST_FIRST_PART or first in _FIRST_PARTS
    return "".join(sides) if joinable and not named and first not in _NEVER_JOINED else word


def _hyphenated(parts: list[str]) -> Iterator[Change]:
    """Yield the phrase with a hyphen in one gap; longer phrases in the first and last gap only.

    A gap beside 'of', 'for' and the like takes none, but in pairs such as 'in situ'.
    """
    gaps = dict.fromkeys((0, len(parts) - 2)) if len(parts) > 1 else {}
    for gap in gaps:
        sides = parts[gap : gap + 2]
        if len(parts) > 2 and any(side.casefold() in _SMALL_WORDS for side in sides):
            continue
        yield " ".join((*parts[:gap], "-".join(sides), *parts[gap + 2 :])), "hyphen for blank"
