"""Which pairs of records are worth comparing: never all of them.

Every rule looks only at records that arrived earlier, so that a pair that was found one
night is found again when everything is done afresh, whatever came in between.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from hashlib import blake2b
from itertools import pairwise

import numpy as np
import numpy.typing as npt
from rapidfuzz import process
from rapidfuzz.fuzz import ratio

from pipeline.resolve import titles
from pipeline.resolve.profile import Shelf, doi_parts, long_number, place_key

Places = npt.NDArray[np.int64]
Vectors = dict[str, npt.NDArray[np.float32]]

# Records of one key that a newcomer is compared with: the latest so many. Thousands of
# identical titles cost this many comparisons each, not thousands.
SAME_KEY = 12
# A title word (or two words in a row) stops finding candidates once so many records bear it.
RARE = 24
# Likeness 0..100 of the ordered words below which a pair is not looked at.
WORTH_A_LOOK = 60.0
# Cosine of two texts' vectors from which the pair is looked at.
CLOSE = 0.9
_CHUNK = 500_000


def pairs(shelf: Shelf, new: npt.NDArray[np.bool_], vectors: Vectors) -> Iterator[tuple[int, int]]:
    """Yield the pairs (earlier, later) of places on the shelf that touch something new, once each.

    new: one flag a record, in the shelf's order. Cost grows with records times the limits above.
    """
    hard = _evidence_pairs(shelf, new)
    by_title = _alike(shelf, np.concatenate([_title_pairs(shelf, new), _vector_pairs(shelf, new, vectors)]))
    for code in np.unique(np.concatenate([hard, by_title])).tolist():
        yield divmod(code, len(shelf.ids))


def _evidence_pairs(shelf: Shelf, new: npt.NDArray[np.bool_]) -> Places:
    """Return pairs under one identifier, one relation's target, one priority, as codes."""
    keys: list[int] = []
    places: list[int] = []
    for place, record_id in enumerate(shelf.ids):
        for text in _evidence_keys(shelf, record_id):
            keys.append(_hash(text))
            places.append(place)
    return _blocked(_array(keys), _array(places), new, SAME_KEY, None)


def _evidence_keys(shelf: Shelf, record_id: str) -> Iterable[str]:
    found: set[str] = set()
    relations = shelf.relations.get(record_id, ())
    profile = shelf[record_id]
    if place := place_key(profile):
        found.add(f"place {place}")
    for scheme, keys in profile.ids.items():
        found.update(f"{scheme} {key}" for key in keys)
        if scheme == "doi":
            found.update(f"doi {base}" for base, _ in map(doi_parts, keys))
            found.update(f"{doi.partition('/')[0]} {number}" for doi in keys if (number := long_number(doi)))
    found.update(f"application {key}" for key in profile.priorities)
    found.update(
        f"{scheme} {key}"
        for kind, scheme, key in relations
        if key and kind not in ("cites", "cited by", "priority")
    )
    return found


def _title_pairs(shelf: Shelf, new: npt.NDArray[np.bool_]) -> Places:
    """Return pairs under one whole title, one rare word or one rare pair of words, as codes."""
    whole: tuple[list[int], list[int]] = ([], [])
    rare: tuple[list[int], list[int]] = ([], [])
    for place, title in enumerate(shelf.titles):
        if not title or titles.is_weak(title):
            continue
        parts = sorted(title.split())
        whole[0].append(_hash(titles.key(title)))
        whole[1].append(place)
        words = title.split()[:40]
        found = {word for word in parts[:40] if len(word) > 3}
        found.update(f"{x} {y}" for x, y in pairwise(words))
        rare[0].extend(map(_hash, found))
        rare[1].extend([place] * len(found))
    return np.concatenate([
        _blocked(_array(whole[0]), _array(whole[1]), new, SAME_KEY, None),
        _blocked(_array(rare[0]), _array(rare[1]), new, RARE, RARE),
    ])  # fmt: skip


def _blocked(
    keys: Places, places: Places, new: npt.NDArray[np.bool_], window: int, most: int | None
) -> Places:
    """Return (earlier, later) codes of the records next to each other under one key.

    Each record is paired with the `window` records of its key that arrived before it; with
    `most`, a record that so many came before is paired with none.
    """
    order = np.lexsort((places, keys))
    keys, places = keys[order], places[order]
    starts = np.flatnonzero(np.r_[True, keys[1:] != keys[:-1]]) if len(keys) else np.empty(0, np.int64)
    rank = np.arange(len(keys)) - np.repeat(starts, np.diff(np.r_[starts, len(keys)]))
    wanted = rank < most if most is not None else np.ones(len(keys), bool)
    found = [np.empty(0, np.int64)]
    for step in range(1, window + 1):
        later = np.flatnonzero(wanted & (rank >= step))
        if not len(later):
            break
        a, b = places[later - step], places[later]
        touched = (new[a] | new[b]) & (a != b)
        found.append(np.unique(a[touched] * len(new) + b[touched]))
    return np.unique(np.concatenate(found))


def _vector_pairs(shelf: Shelf, new: npt.NDArray[np.bool_], vectors: Vectors) -> Places:
    """Return pairs whose vectors are close, the latest SAME_KEY earlier ones each, as codes."""
    placed = sorted((shelf.place[i], i) for i in vectors if i in shelf.place)
    if not placed:
        return np.empty(0, np.int64)
    places = np.array([place for place, _ in placed])
    matrix = np.stack([vectors[i] for _, i in placed]).astype(np.float32)
    found = [np.empty(0, np.int64)]
    # A changed record may be the earlier one of a pair, so rows from the first new one on are asked.
    first = int(np.argmax(new[places])) if new[places].any() else len(places)
    only_latest = bool(new[places[first:]].all())
    for start in range(first, len(places), 512):
        rows = np.arange(start, min(start + 512, len(places)))
        close = matrix[rows] @ matrix[: rows[-1] + 1].T >= CLOSE
        close &= np.arange(rows[-1] + 1)[None, :] < rows[:, None]
        late = close[:, ::-1].cumsum(axis=1)[:, ::-1] <= SAME_KEY
        b, a = np.nonzero(close & late)
        touched = np.ones(len(a), bool) if only_latest else new[places[a]] | new[places[rows[b]]]
        found.append(places[a[touched]] * len(new) + places[rows[b[touched]]])
    return np.concatenate(found)


def _alike(shelf: Shelf, codes: Places) -> Places:
    """Return the codes whose titles, words in order of the alphabet, are worth a look."""
    codes = np.unique(codes)
    ordered = [" ".join(sorted(title.split())) for title in shelf.titles] if len(codes) else []
    kept = [np.empty(0, np.int64)]
    for start in range(0, len(codes), _CHUNK):
        chunk = codes[start : start + _CHUNK]
        a, b = np.divmod(chunk, len(shelf.ids))
        left, right = [ordered[i] for i in a.tolist()], [ordered[i] for i in b.tolist()]
        scores = process.cpdist(left, right, scorer=ratio, score_cutoff=WORTH_A_LOOK)
        kept.append(chunk[scores > 0])
    return np.concatenate(kept)


def _hash(text: str) -> int:
    # hash() changes from run to run; a collision here only adds a comparison.
    digest = blake2b(text.encode("utf-8", "surrogatepass"), digest_size=8).digest()
    return int.from_bytes(digest, "little") >> 1


def _array(values: list[int]) -> Places:
    return np.array(values, dtype=np.int64)
