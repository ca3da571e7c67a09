"""Which pairs of records are worth comparing: never all of them.

Every rule looks only at records that arrived earlier, so that a pair that was found one
night is found again when everything is done afresh, whatever came in between.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from pipeline.resolve.columns import Flags, Ints, among, changes, different
from pipeline.resolve.keys import NUMBER, RARE, Keys

# Records of one key that a newcomer is compared with: the latest so many. Thousands of
# identical titles cost this many comparisons each, not thousands.
SAME_KEY = 12
# A title word (or two words in a row) stops finding candidates once so many records bear it.
MOST_BEARERS = 24


class Pairs(NamedTuple):
    """Places of an earlier and a later record, row by row, and whether evidence may speak of the two."""

    a: Ints
    b: Ints
    numbered: Flags


def pairs(found: Keys, new: Flags) -> Pairs:
    """Return the pairs that share a key and touch something new, once each, in order; evidence may
    speak of those that share a number.

    new: one flag a place. Each record is paired with the SAME_KEY records of its key that
    arrived before it; under a key that must be rare, with all before it while they are fewer
    than MOST_BEARERS. Cost grows with the keys times these limits.
    """
    by_number = _codes(found, found.says == NUMBER, new)
    codes = different(np.concatenate([by_number, _codes(found, found.says != NUMBER, new)]))
    size = max(len(new), 1)
    return Pairs(codes // size, codes % size, among(codes, by_number))


def _codes(found: Keys, kept: Flags, new: Flags) -> Ints:
    """Return each pair as one number: earlier place times the records, plus the later place."""
    order = np.flatnonzero(kept)
    order = order[np.argsort(found.keys[order], kind="stable")]
    keys, places, rare = found.keys[order], found.places[order], found.says[order] == RARE
    first = changes(keys)
    once = first | changes(places)
    keys, places, rare = keys[once], places[once], rare[once]
    starts = np.flatnonzero(changes(keys))
    sizes = np.diff(np.r_[starts, len(keys)])
    rank = np.arange(len(keys)) - np.repeat(starts, sizes)
    paired = np.flatnonzero((rank > 0) & ~(rare & (rank >= MOST_BEARERS)))
    codes = [np.empty(0, np.int64)]
    for step in range(1, MOST_BEARERS):
        paired = paired[(rank[paired] >= step) & (rare[paired] | (step <= SAME_KEY))]
        a, b = places[paired - step], places[paired]
        touched = new[a] | new[b]
        codes.append(a[touched] * len(new) + b[touched])
    return different(np.concatenate(codes))
