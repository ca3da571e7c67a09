"""Which pairs are looked at, night by night, and what a link says."""

from __future__ import annotations

import numpy as np
import pyarrow as pa
import pytest

from pipeline.resolve import Shelf, links
from pipeline.resolve.likeness import compare

TEXT = ("record_id", "source", "kind", "title", "venue", "volume", "pages", "version", "language")
PERSON = pa.struct([(n, pa.string()) for n in ("name", "role", "family", "given")])
RECORDS = pa.schema(
    [(n, pa.string()) for n in TEXT]
    + [("seq", pa.int64()), ("people", pa.list_(PERSON)), ("year_from", pa.int32()), ("year_to", pa.int32())]
)
NAMES = ("record_id", "scheme", "value", "match_key", "kind")
NOTHING = pa.schema([(n, pa.string()) for n in NAMES]).empty_table()
NO_VECTORS = pa.schema([("record_id", pa.string()), ("vector", pa.list_(pa.float32(), 4))]).empty_table()
NO_RULINGS = pa.schema(
    [("record_a", pa.string()), ("record_b", pa.string()), ("same", pa.bool_())]
).empty_table()


def linked(
    titles: list[str],
    new: list[int],
    sources: str = "xy",
    rulings: pa.Table = NO_RULINGS,
    vectors: pa.Table = NO_VECTORS,
) -> list[tuple[str, str, str]]:
    """Return (record_a, record_b, same) for records r00, r01 … by one person in one year."""
    records = tabled(titles, sources)
    found = links([f"r{n:02}" for n in new], records, NOTHING, NOTHING, vectors, rulings)
    return list(zip(*(found[n].to_pylist() for n in ("record_a", "record_b", "same")), strict=True))


def tabled(titles: list[str], sources: str = "xy") -> pa.Table:
    """Return records r00, r01 … by one person in one year."""
    person = {"name": "Ada Quill", "role": "author", "family": "Quill", "given": "Ada"}
    rows = [
        dict.fromkeys(TEXT, "") | {"record_id": f"r{n:02}", "seq": n, "source": sources[n % len(sources)]}
        | {"kind": "article", "title": title, "people": [person], "year_from": 2019, "year_to": 2019}
        for n, title in enumerate(titles)
    ]  # fmt: skip
    return pa.Table.from_pylist(rows, RECORDS)


CROWD = [f"clay drip {word} pipe" for word in "abcdefghijklmnopqrstuvwxyzαβγδεζηθικλμ"]

CLAY = "Springs of shape memory in drip emitters"
SLOW = "Springs of shape memory in slow drip emitters"
CROWD_WORDS = [f"{a}{b}ck{a}" for a in "abdfghkl" for b in "aeiou"]


def test_a_pair_found_one_night_is_found_in_the_whole_though_its_words_became_common() -> None:
    """Rarity is counted at arrival: what comes later takes no candidate away."""
    first = ["clay drip pipes", "clay drip pipe"]
    assert linked(first, [0, 1]) == [("r00", "r01", "document")]
    whole = linked(first + CROWD, list(range(2 + len(CROWD))))
    assert ("r00", "r01", "document") in whole
    assert linked(first, [0, 1]) + linked(first + CROWD, list(range(2, 2 + len(CROWD)))) == whole


@pytest.mark.parametrize("slip", ["Slver clay drip emitter pipes", "Sillverclay drip emitter pipes",
                                  "Silvar clay drip emittex pipes"])  # fmt: skip
def test_a_slip_of_spelling_hides_no_pair_in_a_crowd(slip: str) -> None:
    """Where forty others bear every word that the two share, what slips leave of a title finds them."""
    crowd = [f"{word} clay drip emitter pipes" for word in CROWD_WORDS]
    found = linked([*crowd, "Silver clay drip emitter pipes", slip], [len(crowd) + 1])
    assert ("r40", "r41") in {pair[:2] for pair in found}


@pytest.mark.parametrize("new", [[0], [1], [0, 1]])
def test_a_changed_record_is_compared_with_what_came_before_and_after(new: list[int]) -> None:
    """A link is worked out again whichever of its two records changed; an untouched pair is left alone."""
    titles = [
        "Springs of shape memory",
        "Springs of shape memory",
        "Terns of the north",
        "Terns of the north",
    ]
    assert linked(titles, new) == [("r00", "r01", "document")]


def test_two_entries_of_one_source_are_two_versions() -> None:
    """A source that lists two entries means two documents, whatever they look like."""
    assert linked(["Springs of shape memory"] * 2, [0, 1], sources="x") == [("r00", "r01", "work")]


def test_a_ruled_pair_is_compared_though_no_block_holds_it() -> None:
    """A ruling brings the pair to be compared; what the ruling says is applied when grouping."""
    ruling = pa.Table.from_pylist([{"record_a": "r00", "record_b": "r29", "same": False}], NO_RULINGS.schema)
    titles = ["Springs of shape memory"] * 30
    assert ("r00", "r29", "document") not in linked(titles, list(range(30)))
    assert ("r00", "r29", "document") in linked(titles, list(range(30)), rulings=ruling)


def test_a_low_cosine_counts_against_a_pair_and_a_missing_one_does_not() -> None:
    """Likeness uses the vectors where both records have one."""
    titles = [CLAY, SLOW]
    far = [{"record_id": "r00", "vector": [1.0, 0, 0, 0]}, {"record_id": "r01", "vector": [0, 1.0, 0, 0]}]
    table = pa.Table.from_pylist(far, NO_VECTORS.schema)
    assert linked(titles, [0, 1]) == [("r00", "r01", "document")]
    assert linked(titles, [0, 1], vectors=table.slice(0, 1)) == [("r00", "r01", "document")]
    assert linked(titles, [0, 1], vectors=table) == []


def test_a_quick_look_changes_no_link(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whether records are looked at quickly first, on a shelf of their own or not, the links are the same."""
    from pipeline.resolve import linking

    sisters = [f"{word} clay drip emitter pipes" for word in CROWD_WORDS]
    titles = [
        *sisters,
        CLAY,
        SLOW,
        "Clay drip",
        *(f"{title} for fields" for title in sisters),
        CLAY,
        "Clay drip",
    ]
    found = []
    for share in (0.0, 1.0):
        monkeypatch.setattr(linking, "_FEW", share)
        found.append(linked(titles, list(range(40, len(titles)))))
    monkeypatch.setattr(linking, "_narrowed", lambda *left: left)
    found.append(linked(titles, list(range(40, len(titles)))))
    assert found[0] == found[1] == found[2]
    assert len(found[0]) > 20


def test_vectors_are_asked_for_only_where_they_can_decide() -> None:
    """Equal titles by one person are one work whatever the cosine; unlike ones are two."""
    asked: list[int] = []
    records = Shelf(
        tabled(["Springs of shape memory", "Springs of shape memory", CLAY, SLOW]), NOTHING, NOTHING
    )

    def cosines(a: np.ndarray, b: np.ndarray) -> np.ndarray:
        asked.extend([*a.tolist(), *b.tolist()])
        return np.full(len(a), np.nan)

    compare(records, np.array([0, 0, 2]), np.array([1, 2, 3]), cosines)
    assert asked == [2, 3]
