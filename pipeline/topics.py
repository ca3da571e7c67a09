"""References grouped by what they are about, each group named by its own words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

# What a user looks at; clustering far more finds the giants only and takes minutes.
MOST_REFERENCES = 5_000
FEWEST_REFERENCES = 5
# Below this, density says little and groups are joined by mean distance instead.
SMALL = 200
# Groups stay apart from this cosine distance on, or, in a narrow field, from this share of
# the mean distance on (both chosen on MED's abstracts, whose subjects are known).
SMALL_DISTANCE = 0.65
SMALL_SHARE = 0.8
SMALLEST_TOPIC = 3
DIMENSIONS = 15
SEED = 20
TERMS = 4
NO_TERMS = "no shared words"
# What counts as a word: three letters or more, no stop word.
_WORDS = {"stop_words": "english", "token_pattern": r"(?u)\b[^\W\d_][\w-]{2,}\b"}


def topics(
    reference_ids: Sequence[str], vectors: NDArray[np.float32], texts: Sequence[str], seed: int = SEED
) -> tuple[pa.Table, pa.Table]:
    """Return (members, topics): which reference belongs to which topic, and each topic's terms.

    reference_ids: unique, at most MOST_REFERENCES (the best placed). vectors: their
    vectors of length 1, row by row. texts: title and abstract, row by row.
    members: (reference_id, topic_id), sorted by id; a reference that fits nowhere has no row.
    topics: (topic_id, terms, size), numbered from 1 by size, then by smallest reference id.
    The order of input changes nothing. Fewer than FEWEST_REFERENCES give no topics.
    Raises ValueError for lengths that differ, an id given twice, or too many references.
    """
    _check(reference_ids, vectors, texts)
    order = sorted(range(len(reference_ids)), key=lambda row: reference_ids[row])
    ids = [reference_ids[row] for row in order]
    if len(ids) < FEWEST_REFERENCES:
        return _tables([], [])
    labels = _clusters(np.asarray(vectors, dtype=np.float64)[order], seed)
    groups = _numbered(labels)
    terms = _terms([[texts[order[row]] for row in rows] for rows in groups])
    members = [(ids[row], number) for number, rows in enumerate(groups, start=1) for row in rows]
    return _tables(
        sorted(members),
        [(n, words, len(rows)) for n, (rows, words) in enumerate(zip(groups, terms, strict=True), start=1)],
    )


def _check(reference_ids: Sequence[str], vectors: NDArray[np.float32], texts: Sequence[str]) -> None:
    counts = (len(reference_ids), len(vectors), len(texts))
    if len(set(counts)) != 1:
        raise ValueError(f"ids, vectors and texts differ in number: {counts}")
    if len(set(reference_ids)) != len(reference_ids):
        raise ValueError("a reference stands twice among those to group into topics")
    if len(reference_ids) > MOST_REFERENCES:
        raise ValueError(
            f"{len(reference_ids)} references are too many for topics: pass the best {MOST_REFERENCES}"
        )


def _clusters(points: NDArray[np.float64], seed: int) -> NDArray[np.int64]:
    """Return a label per row; -1 fits nowhere."""
    from sklearn.cluster import HDBSCAN, AgglomerativeClustering
    from sklearn.decomposition import PCA

    if len(points) < SMALL:
        joined = AgglomerativeClustering(
            n_clusters=None, metric="cosine", linkage="average", distance_threshold=_apart(points)
        )
        labels = np.asarray(joined.fit_predict(points), dtype=np.int64)
        sizes = np.bincount(labels)
        return np.where(sizes[labels] >= SMALLEST_TOPIC, labels, -1)
    wide = min(DIMENSIONS, points.shape[1])
    flat = PCA(wide, svd_solver="full", random_state=seed).fit_transform(points)
    smallest = max(SMALLEST_TOPIC, round(len(points) ** 0.5 / 4))
    found = HDBSCAN(min_cluster_size=smallest, min_samples=SMALLEST_TOPIC, copy=True).fit_predict(flat)
    return np.asarray(found, dtype=np.int64)


def _apart(points: NDArray[np.float64]) -> float:
    """Return the mean cosine distance from which two groups are two topics; above 0."""
    count = len(points)
    mean = 1 - (float((points.sum(axis=0) ** 2).sum()) - count) / (count * (count - 1))
    return max(0.01, min(SMALL_DISTANCE, round(SMALL_SHARE * mean, 6)))


def _numbered(labels: NDArray[np.int64]) -> list[list[int]]:
    """Return the rows of each cluster, the largest first, then by first row (smallest id)."""
    groups: dict[int, list[int]] = {}
    for row, label in enumerate(labels.tolist()):
        if label >= 0:
            groups.setdefault(label, []).append(row)
    return sorted(groups.values(), key=lambda rows: (-len(rows), rows[0]))


def _terms(groups: list[list[str]]) -> list[str]:
    """Return the words that set each group apart from the others, joined by commas.

    Class-based tf-idf: a term's share of the group's words x log(1 + mean group length /
    the term's count in all groups), over words and word pairs.
    """
    counter, counts = _counts([text for texts in groups for text in texts])
    if counter is None:
        return [NO_TERMS] * len(groups)
    owner = np.repeat(np.arange(len(groups)), [len(texts) for texts in groups])
    named = []
    totals = np.asarray(counts.sum(axis=0)).ravel()
    mean_length = counts.sum() / len(groups)
    words = counter.get_feature_names_out()
    for group in range(len(groups)):
        part = counts[np.flatnonzero(owner == group)]
        holders = np.asarray((part > 0).sum(axis=0)).ravel()
        share = np.asarray(part.sum(axis=0)).ravel() / max(1, part.sum())
        weight = share * np.log1p(mean_length / totals) * (holders >= min(2, part.shape[0]))
        named.append(_pick(words, weight))
    return named


def _counts(texts: list[str]) -> tuple[Any, Any]:
    """Return the counter and the counts of words and pairs, or (None, None) where only stop words stand."""
    from sklearn.feature_extraction.text import CountVectorizer

    counter = CountVectorizer(ngram_range=(1, 2), max_features=50_000, **_WORDS)
    try:
        return counter, counter.fit_transform(texts)
    except ValueError:  # "empty vocabulary"
        return None, None


def _pick(words: NDArray[Any], weight: NDArray[np.float64]) -> str:
    """Return the heaviest terms that share no word, plurals aside; equal weights go by the alphabet."""
    chosen: list[str] = []
    used: set[str] = set()
    best = np.argsort(-weight)[:200]
    for term in sorted(best, key=lambda t: (-round(float(weight[t]), 9), str(words[t]))):
        parts = {word.rstrip("s") for word in str(words[term]).split()}
        if weight[term] <= 0 or len(chosen) == TERMS:
            break
        if not parts & used:
            chosen.append(str(words[term]))
            used |= parts
    return ", ".join(chosen) or NO_TERMS


def _tables(members: list[tuple[str, int]], found: list[tuple[int, str, int]]) -> tuple[pa.Table, pa.Table]:
    return (
        pa.table(
            {
                "reference_id": pa.array([row[0] for row in members], pa.string()),
                "topic_id": pa.array([row[1] for row in members], pa.int32()),
            }
        ),
        pa.table(
            {
                "topic_id": pa.array([row[0] for row in found], pa.int32()),
                "terms": pa.array([row[1] for row in found], pa.string()),
                "size": pa.array([row[2] for row in found], pa.int32()),
            }
        ),
    )
