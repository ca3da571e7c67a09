"""The texts of a reference cut into passages short enough to point at.

A passage is a sentence, or a part of a long one, exactly as it stands in the source's
text, so that the page can mark it there.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

# Per reference: bounds what one handed-in full text costs to embed.
MOST_PASSAGES = 60
# However long the abstract, this many are kept free for claims, where elements stand.
KEPT_FOR_CLAIMS = 20
# Characters. About 150 word pieces of English, so a passage is never cut by the default model.
LONGEST = 600
# A shorter piece ("Ltd.", "(see above).") says nothing alone and joins its neighbour.
SHORTEST = 12

# An end of sentence: stop and closing marks before a blank, a CJK stop, an empty line.
_END = re.compile(r"[.!?]{1,3}[\"'”’)\]]{0,3}(?=\s)|[。！？]|\n\s*\n")
_CLAIM_END = re.compile(_END.pattern + r"|;(?=\s)|\n")
# A full stop after these ends nothing; after the second lot, only when a number follows.
_ABBREVIATIONS = frozenset(
    {"al", "approx", "ca", "cf", "corp", "dept", "dr", "e.g", "eds", "eg", "esp", "i.e", "ie", "incl", "jr"}
    | {"ltd", "mr", "mrs", "ms", "pat", "prof", "pub", "publ", "resp", "st", "u.k", "u.s", "viz", "vs"}
)
_NUMBERED = frozenset(
    {"art", "ch", "chap", "cl", "col", "eq", "eqs", "ex", "exs", "fig", "figs", "max", "min", "no", "nos"}
    | {"p", "para", "paras", "pp", "ref", "refs", "sec", "ser", "tab", "vol", "vols"}
)
_LAST_WORD = re.compile(r"[^\s(\[]*\Z")
_SOFT_BREAK = re.compile(r"[,:;](?=\s)")


@dataclass(frozen=True)
class Passage:
    """A piece of one field. field: title, abstract, or claim N, counted from 1."""

    field: str
    text: str


@dataclass(frozen=True)
class Split:
    """The passages of a reference, and how many more there would have been."""

    passages: tuple[Passage, ...]
    left_out: int = 0


def split_reference(title: str, abstract: str, claims: Sequence[str] = ()) -> Split:
    """Return title, abstract sentences and claim parts, in that order, at most MOST_PASSAGES.

    Each text is a verbatim piece of its field, without outer blanks, of LONGEST
    characters at most. An empty field gives none. Cost grows with the text's length.
    """
    head = [Passage("title", text) for text in sentences(title)]
    body = [Passage("abstract", text) for text in sentences(abstract)]
    tail = [
        Passage(f"claim {number}", text)
        for number, claim in enumerate(claims, start=1)
        for text in sentences(claim, _CLAIM_END)
    ]
    room = MOST_PASSAGES - min(len(tail), KEPT_FOR_CLAIMS)
    kept = [*(head + body)[:room], *tail][:MOST_PASSAGES]
    return Split(tuple(kept), len(head) + len(body) + len(tail) - len(kept))


def sentences(text: str, ends: re.Pattern[str] = _END) -> list[str]:
    """Return the sentences of a text, each as it stands there, long ones in several pieces.

    Stops after abbreviations, initials and list numbers ("Fig. 2", "J. Smith", "1. A valve")
    and inside numbers end nothing; so does a stop before a lower-case word, unless it
    stands apart ("end . next"), as in old catalogues.
    """
    pieces: list[tuple[int, int]] = []
    start = 0
    for end in [*(m.end() for m in ends.finditer(text) if _ends_sentence(text, start, m)), len(text)]:
        visible = text[start:end].strip()
        if visible:
            first = text.index(visible[0], start)
            pieces.append((first, first + len(visible)))
        start = end
    return [text[a:b].strip() for piece in _joined(pieces) for a, b in _windows(text, *piece)]


def _ends_sentence(text: str, start: int, end: re.Match[str]) -> bool:
    """Say whether a stop really ends the sentence that began at start."""
    before = text[max(start, end.start() - 40) : end.start()]
    if not end.group().startswith(".") or before.endswith((" ", "\n")):
        return True
    found = _LAST_WORD.search(before)
    word = found.group().lower() if found else ""
    following = text[end.end() : end.end() + 40].lstrip()[:1]
    is_initial = len(word) == 1 and word.isalpha()
    is_list_number = word.isdigit() and before.strip() == word
    is_number_ahead = word in _NUMBERED and following.isdigit()
    return not (
        word in _ABBREVIATIONS or is_initial or is_list_number or is_number_ahead or following.islower()
    )


def _joined(pieces: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Join a piece that is too short to the one before it, or else to the one after it."""
    joined: list[tuple[int, int]] = []
    for start, end in pieces:
        too_short = end - start < SHORTEST or (bool(joined) and joined[-1][1] - joined[-1][0] < SHORTEST)
        if joined and too_short:
            joined[-1] = (joined[-1][0], end)
        else:
            joined.append((start, end))
    return joined


def _windows(text: str, start: int, end: int) -> list[tuple[int, int]]:
    """Cut a long piece at the last comma or blank before LONGEST, or hard where there is none."""
    windows = []
    while end - start > LONGEST:
        cut = _cut(text, start)
        windows.append((start, cut))
        start = cut
        while text[start].isspace():
            start += 1
    return [*windows, (start, end)]


def _cut(text: str, start: int) -> int:
    """Return where to cut: in the second half of the window, so that pieces stay readable."""
    middle, limit = start + LONGEST // 2, start + LONGEST
    soft = [found.end() for found in _SOFT_BREAK.finditer(text, middle, limit)]
    if soft:
        return soft[-1]
    blank = text.rfind(" ", middle, limit)
    return blank if blank > 0 else limit
