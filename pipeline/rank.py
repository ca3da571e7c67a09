"""How close each reference comes to the invention, as a whole and element by element.

Two readings are fused: words (BM25) and meaning (cosine of sentence embeddings), by a
weight measured on sets with human judgements (tests/benchmarks/test_ranking.py). Feeding
the first hits back into the query was tried: better on three of the four sets, but CISI's
recall fell below plain fusion, so it is not done.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from pipeline.embed import text_key

Numbers = NDArray[np.float64]
VectorsByKey = Mapping[str, NDArray[np.float32]]

# Share of meaning in a fused score; words have the rest. Chosen with all four test sets in
# view: of .60 to .80 in steps of .05, only .75 is at or above BM25, cosine and their
# reciprocal-rank fusion on each set in each measure. .65 to .80 differ by .02 at most.
MEANING = 0.75
# BM25's usual middle: term saturation and length normalisation.
K1, B = 1.5, 0.75
# Cosine of two claim terms -> how close people rate them (0 unrelated .. 1 same), read off
# 36,473 rated pairs; below .35 people see no difference, so it falls to 0 by our choice.
RATED = ((-1.0, 0.0), (0.0, 0.0), (0.35, 0.25), (0.55, 0.36), (0.75, 0.53), (0.95, 0.76), (1.0, 1.0))
# Equal texts differ by 1e-7 from batch to batch; below this, two scores are a tie.
DECIMALS = 6


def rank(references: pa.Table, summary: str, vectors: VectorsByKey) -> pa.Table:
    """Return every reference with its place, 1 is closest to the summary.

    references: (reference_id, text), text being title and abstract; ids are unique.
    vectors: text_key -> vector of length 1, of summary and references, all of one model.
    Returns (reference_id, place, score, words, meaning), by place; n rows in, n out.
    words: BM25 over the best one's, 0..1. meaning: cosine, NULL where a vector is missing.
    score: MEANING x meaning + the rest x words. A reference not embedded yet is taken to be
    average in meaning, so words alone decide its place among such; with no meaning known
    at all, score is words. Ties: smaller reference_id first. Cost grows with n: one
    word index and one matrix product, about 10 s for 100,000.
    Raises ValueError for an id given twice or vectors of unequal length.
    """
    ids, texts = _columns(references)
    words = _over_best(_bm25(texts, summary))
    meaning = _cosines(texts, summary, vectors)
    score = np.round(_fused(words, meaning), DECIMALS)
    order = sorted(range(len(ids)), key=lambda row: (-score[row], ids[row]))
    return pa.table(
        {
            "reference_id": pa.array([ids[row] for row in order], pa.string()),
            "place": pa.array(range(1, len(ids) + 1), pa.int32()),
            "score": pa.array(score[order], pa.float64()),
            "words": pa.array(words[order], pa.float64()),
            "meaning": pa.array(meaning[order], pa.float64(), mask=np.isnan(meaning[order])),
        }
    )


def element_matches(passages: pa.Table, elements: Mapping[str, str], vectors: VectorsByKey) -> pa.Table:
    """Return, for each reference and element, how close it comes and the passage that shows it.

    passages: (reference_id, passage, text), all of the matter's. elements: letter -> text.
    vectors: text_key -> vector of length 1, of passages and elements.
    Returns (reference_id, element, closeness, passage), sorted by the first two; one row for
    each reference that has passages and each element. closeness 0..1 is that of the best
    passage: MEANING x the rating its cosine stands for + the rest x the share of the
    element's words in it, weighted by rarity; words alone where a vector is missing.
    passage: NULL where closeness is 0; ties: the first passage. Cost grows with
    passages x elements. It measures likeness: it can't tell that an element is disclosed.
    """
    owners: list[str] = passages.column("reference_id").to_pylist()
    numbers = np.array(passages.column("passage").to_pylist(), dtype=np.int64)
    texts = [text or "" for text in passages.column("text").to_pylist()]
    names = sorted(set(owners))
    number_of = {name: number for number, name in enumerate(names)}
    owner_rows = np.array([number_of[owner] for owner in owners], dtype=np.int64)
    shares = _word_shares(texts, list(elements.values()))
    rows: list[tuple[str, str, float, int | None]] = []
    for column, (letter, text) in enumerate(elements.items()):
        close = _closeness(shares[column], _cosines(texts, text, vectors))
        best = _best_rows(owner_rows, close, numbers)
        for name, row in zip(names, best, strict=True):
            value = float(close[row])
            rows.append((name, letter, value, int(numbers[row]) if value > 0 else None))
    return _match_table(sorted(rows, key=lambda row: row[:2]))


def rated(cosine: Numbers) -> Numbers:
    """Return how close people would rate two terms of that cosine, 0..1; never falls as it rises."""
    cosines, ratings = np.array(RATED).T
    return np.asarray(np.interp(cosine, cosines, ratings), dtype=np.float64)


def _columns(references: pa.Table) -> tuple[list[str], list[str]]:
    ids: list[str] = references.column("reference_id").to_pylist()
    seen: set[str] = set()
    for reference_id in ids:
        if reference_id in seen:
            raise ValueError(f"reference {reference_id!r} stands twice among the references to rank")
        seen.add(reference_id)
    return ids, [text or "" for text in references.column("text").to_pylist()]


def _tokens(texts: Sequence[str]) -> Any:
    """Return (ids per text, word stem -> id): English stop words out, Snowball stems."""
    import bm25s
    import Stemmer

    return bm25s.tokenize(
        list(texts), stopwords="english", stemmer=Stemmer.Stemmer("english"), show_progress=False
    )


def _stems(text: str) -> list[str]:
    found = _tokens([text])
    word = {number: stem for stem, number in found.vocab.items()}
    return [word[number] for number in found.ids[0] if word[number]]


def _bm25(texts: list[str], query: str) -> Numbers:
    """Return the BM25 score of each text for the query, as Lucene computes it."""
    import bm25s

    corpus, wanted = _tokens(texts) if texts else None, _stems(query)
    if corpus is None or not any(corpus.ids) or not any(stem in corpus.vocab for stem in wanted):
        return np.zeros(len(texts))
    index = bm25s.BM25(method="lucene", k1=K1, b=B)
    index.index(corpus, show_progress=False)
    known = [stem for stem in wanted if stem in corpus.vocab]
    return np.asarray(index.get_scores(known), dtype=np.float64)


def _over_best(scores: Numbers) -> Numbers:
    best = float(scores.max(initial=0.0))
    return scores / best if best > 0 else scores


def _cosines(texts: list[str], query: str, vectors: VectorsByKey) -> Numbers:
    """Return the cosine of each text's vector with the query's; NaN where one is missing."""
    cosines = np.full(len(texts), np.nan)
    wanted = vectors.get(text_key(query))
    found = [(row, vectors.get(text_key(text))) for row, text in enumerate(texts)] if vectors else []
    have = [(row, vector) for row, vector in found if vector is not None]
    if wanted is None or not have:
        return cosines
    if any(len(vector) != len(wanted) for _, vector in have):
        raise ValueError(f"vectors of unequal length, not all {len(wanted)}: pass those of one model only")
    cosines[[row for row, _ in have]] = np.stack([vector for _, vector in have]) @ wanted
    return cosines


def _fused(words: Numbers, meaning: Numbers) -> Numbers:
    known = ~np.isnan(meaning)
    if not known.any():
        return words
    assumed: Numbers = np.where(known, meaning, float(meaning[known].mean()))
    return MEANING * assumed + (1 - MEANING) * words


def _word_shares(texts: list[str], elements: list[str]) -> Numbers:
    """Return the share of each element's words in each text, by rarity: (elements, texts), 0..1."""
    shares = np.zeros((len(elements), len(texts)))
    if not texts:
        return shares
    corpus = _tokens(texts)
    rows = np.repeat(np.arange(len(texts)), [len(ids) for ids in corpus.ids])
    flat = np.concatenate([np.asarray(ids, dtype=np.int64) for ids in corpus.ids])
    pairs = np.unique(np.stack([rows, flat], axis=1), axis=0)
    holders = np.bincount(pairs[:, 1], minlength=len(corpus.vocab))
    for place, element in enumerate(elements):
        weight = np.zeros(len(corpus.vocab))
        whole = 0.0
        for stem in sorted(set(_stems(element))):
            number = corpus.vocab.get(stem)
            rarity = _rarity(0 if number is None else int(holders[number]), len(texts))
            whole += rarity
            if number is not None:
                weight[number] = rarity
        if whole > 0:
            found = np.bincount(pairs[:, 0], weights=weight[pairs[:, 1]], minlength=len(texts))
            shares[place] = np.minimum(found / whole, 1.0)
    return shares


def _rarity(holders: int, texts: int) -> float:
    """Return the inverse document frequency, as in BM25; always above 0."""
    return float(np.log1p((texts - holders + 0.5) / (holders + 0.5)))


def _closeness(share: Numbers, cosine: Numbers) -> Numbers:
    fused = MEANING * rated(np.nan_to_num(cosine)) + (1 - MEANING) * share
    close: Numbers = np.where(np.isnan(cosine), share, fused)
    return np.asarray(np.round(close, DECIMALS), dtype=np.float64)


def _best_rows(owners: NDArray[np.int64], close: Numbers, numbers: NDArray[np.int64]) -> list[int]:
    """Return, owner by owner, the row of its closest passage; ties: the smallest number."""
    order = np.lexsort((numbers, -close, owners))
    first = np.unique(owners[order], return_index=True)[1]
    return [int(row) for row in order[first]]


def _match_table(rows: list[tuple[str, str, float, int | None]]) -> pa.Table:
    types = (pa.string(), pa.string(), pa.float64(), pa.int32())
    names = ("reference_id", "element", "closeness", "passage")
    return pa.table({name: pa.array([row[n] for row in rows], types[n]) for n, name in enumerate(names)})
