"""How likely two records without a number in common are one work, by what they look like."""

from __future__ import annotations

import json
import math
from functools import cache
from importlib.resources import files

from rapidfuzz import fuzz
from rapidfuzz.distance import Indel

from pipeline.resolve.evidence import (
    DOCUMENT,
    STAGES,
    WORK,
    Verdict,
    conflict,
    document_conflict,
    is_patent,
    year_gap,
)
from pipeline.resolve.profile import Profile

# At and above this likeness two records are joined: nine in ten are one work. A wrong merge
# hides a reference and costs more than a missed one.
THRESHOLD = 0.9

# A work's versions appear within these years (conference to journal: one to four).
_LONGEST_GAP = 5
_SAME_PLACE, _SAME_VENUE, _ALIKE = 0.99, 0.6, 60
_EDITIONS = frozenset({"book", "standard", "dataset", "report", "software", "web page"})

FEATURES = (
    "title", "title_letters", "title_and_people", "words_agree", "words_replaced", "words_added",
    "title_length", "people_shared", "first_person", "people_known", "year_same", "year_near", "year_far",
    "venue", "pages_same", "pages_differ", "closeness",
)  # fmt: skip


def likeness(a: Profile, b: Profile, cosine: float | None) -> Verdict | None:
    """Return the verdict by likeness: document or work with its score, or None (not alike enough).

    One document needs more than one work: the same stage and version, different sources (a
    source that lists two entries means two), and one year, or, where a year is unknown, one
    first page in one venue.
    """
    if same_place(a, b):
        return Verdict(DOCUMENT if a.source != b.source else WORK, _place(a), _SAME_PLACE)
    if forbidden(a, b):
        return None
    values = features(a, b, cosine)
    score = min(round(probability(values), 4), 0.9999)
    if score < THRESHOLD:
        return None
    return Verdict(DOCUMENT if _one_document(a, b) else WORK, _words(a, b, score), score)


def same_place(a: Profile, b: Profile) -> bool:
    """Tell whether both stand at one place in print, whatever their titles say: one venue,
    volume, first page and year, a person in common, titles not unlike and no conflict.

    A page can hold two short pieces, so that people and titles must not speak against it.
    """
    stated = a.volume and a.first_page and a.volume == b.volume and a.first_page == b.first_page
    if not stated or year_gap(a, b) != 0 or venue_likeness(a, b) < _SAME_VENUE or not people_shared(a, b):
        return False
    unlike = not (a.weak or b.weak) and fuzz.token_sort_ratio(a.title, b.title) < _ALIKE
    other = a.notice != b.notice or is_patent(a) or is_patent(b) or not _classes_meet(a, b)
    return not (unlike or other or a.numbers != b.numbers or conflict(a, b) or document_conflict(a, b))


def _place(a: Profile) -> str:
    return f"same place in print: {a.venue} {a.volume}, page {a.first_page}, with a person in common"


def forbidden(a: Profile, b: Profile) -> str:
    """Return the rule that keeps likeness from joining the two, or "".

    Patents are joined by numbers only: one inventor's families bear one title. Titles that
    are empty, of one word or boilerplate need an identifier.
    """
    gap = year_gap(a, b)
    rules = (
        (is_patent(a) or is_patent(b), "patent documents are joined by their numbers only"),
        (a.weak or b.weak, "the title says too little"),
        (not _notices_meet(a, b), "a notice about another work"),
        (not _numbers_meet(a, b), "different numbers in the titles"),
        (not _classes_meet(a, b), "different kinds of document"),
        (bool(gap) and {a.kind_class, b.kind_class} <= _EDITIONS, "different years of a series or edition"),
        (gap is not None and gap > _LONGEST_GAP, "too many years apart"),
        (bool(a.people and b.people) and people_shared(a, b) == 0, "no person in common"),
    )
    return next((reason for holds, reason in rules if holds), "") or conflict(a, b)


def _notices_meet(a: Profile, b: Profile) -> bool:
    """Notices meet only their like, and only where people and year show that it is one notice."""
    if not (a.notice or b.notice):
        return True
    return a.notice == b.notice and bool(a.people and b.people) and year_gap(a, b) == 0


def _numbers_meet(a: Profile, b: Profile) -> bool:
    """Numbers are the same, but for the records' own year that one title has in it."""
    odd = a.numbers ^ b.numbers
    return not odd or (year_gap(a, b) == 0 and odd == {str(a.year_from)})


def _classes_meet(a: Profile, b: Profile) -> bool:
    if a.kind_class == b.kind_class or not (a.kind_class and b.kind_class):
        return True
    return a.kind_class in STAGES and b.kind_class in STAGES


def _one_document(a: Profile, b: Profile) -> bool:
    if a.source == b.source or document_conflict(a, b) or pages_differ(a, b):
        return False
    gap = year_gap(a, b)
    if gap is None:
        return bool(a.first_page) and a.first_page == b.first_page and venue_likeness(a, b) > 0
    return gap == 0


def _words(a: Profile, b: Profile, score: float) -> str:
    parts = [
        "same title"
        if a.title == b.title
        else f"titles agree {fuzz.token_sort_ratio(a.title, b.title):.0f} %"
    ]
    shared, most = people_shared(a, b), min(len(a.people), len(b.people))
    parts.append(f"{shared} of {most} people agree" if most else "people not known on both sides")
    gap = year_gap(a, b)
    parts.append(
        "year not known" if gap is None else "same year" if gap == 0 else f"{gap} year{'s' * (gap > 1)} apart"
    )
    return ", ".join(parts) + f" (likeness {min(score, 0.99):.2f})"


def features(a: Profile, b: Profile, cosine: float | None) -> tuple[float, ...]:
    """Return the values of FEATURES, each about -1..1; what a side does not state counts 0.

    cosine: of the two texts' vectors, None where one has none.
    """
    replaced, added = word_changes(a.title, b.title)
    length = min(len(a.title.split()), len(b.title.split()))
    most = min(len(a.people), len(b.people))
    shared = people_shared(a, b)
    gap = year_gap(a, b)
    return (
        fuzz.token_sort_ratio(a.title, b.title) / 100,
        Indel.normalized_similarity(joined := a.title.replace(" ", ""), other := b.title.replace(" ", "")),
        1.0 if joined == other and most and shared == most else 0.0,
        1.0 if not (replaced or added) else 0.0,
        min(replaced, 4) / max(length, 1),
        min(added, 6) / max(length, 1),
        min(length, 12) / 12,
        2 * shared / most - 1 if most else 0.0,
        0.0 if not most else 1.0 if near_name(a.people[0], b.people[0]) else -1.0,
        1.0 if most else 0.0,
        1.0 if gap == 0 else 0.0,
        1.0 if gap == 1 else 0.0,
        1.0 if gap and gap > 1 else 0.0,
        venue_likeness(a, b),
        1.0 if a.first_page and a.first_page == b.first_page else 0.0,
        1.0 if pages_differ(a, b) else 0.0,
        max(cosine - 0.8, -0.4) if cosine is not None else 0.0,
    )


def probability(values: tuple[float, ...]) -> float:
    """Return the likeness 0..1 of one pair's features under the shipped weights."""
    intercept, weights = _weights()
    total = intercept + sum(w * v for w, v in zip(weights, values, strict=True))
    return 1 / (1 + math.exp(-max(-40.0, min(40.0, total))))


@cache
def _weights() -> tuple[float, tuple[float, ...]]:
    shipped = json.loads(files("pipeline.resolve").joinpath("weights.json").read_text("utf-8"))
    return shipped["intercept"], tuple(shipped["weights"][name] for name in FEATURES)


def near(x: str, y: str) -> bool:
    """Tell whether two words are one word but for a slip of spelling."""
    return x == y or (min(len(x), len(y)) > 3 and Indel.normalized_similarity(x, y) >= 0.83)


def near_name(x: str, y: str) -> bool:
    """Tell whether two family names are one but for lost or changed letters."""
    return x == y or (min(len(x), len(y)) > 2 and Indel.normalized_similarity(x, y) >= 0.79)


def people_shared(a: Profile, b: Profile) -> int:
    """Return how many of the fewer people are found on the other side, slips of spelling allowed."""
    few, many = sorted((set(a.people), set(b.people)), key=len)
    same = few & many
    left = many - same
    return len(same) + sum(1 for name in few - same if any(near_name(name, other) for other in left))


def word_changes(x: str, y: str) -> tuple[int, int]:
    """Return how many words are replaced and how many only one side has, slips of spelling aside."""
    mine, theirs = x.split(), y.split()
    only_x, only_y = [w for w in mine if w not in theirs], [w for w in theirs if w not in mine]
    if only_x and only_y and Indel.normalized_similarity("".join(only_x), "".join(only_y)) >= 0.9:
        return 0, 0
    for word in list(only_x):
        slip = next((other for other in only_y if near(word, other)), None)
        if slip is not None:
            only_x.remove(word)
            only_y.remove(slip)
    return min(len(only_x), len(only_y)), abs(len(only_x) - len(only_y))


def venue_likeness(a: Profile, b: Profile) -> float:
    """Return -1 (unlike) to 1 (alike); 0 where a venue is unknown."""
    if not a.venue or not b.venue:
        return 0.0
    return 2 * max(fuzz.token_set_ratio(a.venue, b.venue), _initials(a.venue, b.venue)) / 100 - 1


def _initials(x: str, y: str) -> float:
    short, long = sorted((x, y), key=len)
    letters = "".join(word[0] for word in long.split())
    return 80.0 if len(short) > 2 and " " not in short and short[:8] in letters else 0.0


def pages_differ(a: Profile, b: Profile) -> bool:
    """Tell whether both state a first page and it is not the same."""
    return bool(a.first_page and b.first_page) and a.first_page != b.first_page
