"""Patent families, exactly: what priorities join comes together, what they do not stays apart.

Every document here bears one title, one set of people and one year, so that anything but
the families would join too much. What is expected is written down beside each plan, and
worked out a second time as connected components, by a library that knows nothing of patents.
The definitions are the EPO's own (its pages on the INPADOC extended family and the DOCDB
simple family): members of a simple family have exactly the same priorities; members of an
extended one have at least one priority in common with at least one other, directly or
indirectly, and priorities that refer to an earlier application, domestic or international,
count. So a first filing, which claims none, belongs to what claims it.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from connectors.connector import Parsed
from connectors.record import Record, Relation, StatedIdentifier
from pipeline.identifiers import normalise
from pipeline.normalise import ReadPage, normalise_pages
from pipeline.references import resolve_references
from pipeline.resolve import Shelf, group, links
from pipeline.resolve.evidence import evidence
from pipeline.store import open_store
from tests.pipeline.resolving import NO_RULINGS, NO_VECTORS, as_tables, document, key, memberships, sets_of

LOAD = Path(__file__).resolve().parents[2] / "pipeline/load.sql"

# One plan a family: the documents that are one reference, however they arrive.
FAMILIES: dict[str, list[Record]] = {
    "a first filing that states no priority, and what claims it": [
        document("o:first", "US 2019/0000001 A1", "2019-01-03", "US 16/000,001"),
        document("o:ep", "EP 3500001 A1", "2019-07-03", "EP 19150001", ["US 16/000,001"]),
        document("o:ep grant", "EP 3500001 B1", "2021-05-05", "EP 19150001", ["US 16/000,001"]),
        document("o:jp", "JP 2019-150001 A", "2019-09-05", "JP 2019-050001", ["US 16/000,001"]),
    ],
    "a provisional, never published": [
        document("o:us prov", "US 2019/0000101 A1", "2019-02-07", "US 16/000,101", ["US 62/500,101"]),
        document("o:wo prov", "WO 2019/010101 A1", "2019-03-07", "PCT/US2018/040101", ["US 62/500,101"]),
    ],
    "an international application, corrected, and its national phases": [
        document("o:wo", "WO 2019/020201 A1", "2019-04-04", "PCT/EP2018/050201", ["GB 1700201.3"]),
        document("o:wo corrected", "WO 2019/020201 A8", "2019-06-06", "PCT/EP2018/050201", ["GB 1700201.3"]),
        document("o:us phase", "US 2020/0000201 A1", "2020-01-02", "US 16/600,201", ["GB 1700201.3", "PCT/EP2018/050201"]),
        document("o:ep phase", "EP 3600201 A1", "2020-02-05", "EP 18150201", ["GB 1700201.3", "PCT/EP2018/050201"]),
        document("o:ep phase grant", "EP 3600201 B1", "2021-02-03", "EP 18150201", ["GB 1700201.3"]),
        document("o:jp phase", "JP 2020-500201 A", "2020-01-09", "JP 2019-550201", ["GB 1700201.3", "PCT/EP2018/050201"]),
        document("o:cn phase", "CN 110000201 A", "2020-03-03", "CN 201880000201.2", ["GB 1700201.3"]),
        document("o:cn phase grant", "CN 110000201 B", "2022-03-01", "CN 201880000201.2", ["GB 1700201.3"]),
    ],
    "an international application that is itself the first filing": [
        document("o:wo first", "WO 2019/030301 A1", "2019-05-02", "PCT/JP2018/000301"),
        document("o:cn of it", "CN 110000301 A", "2020-04-07", "CN 201880000301.5", ["PCT/JP2018/000301"]),
        document("o:us of it", "US 2020/0000301 A1", "2020-05-07", "US 16/600,301", ["PCT/JP2018/000301"]),
    ],
    "a continuation that names its parent only, and one of that": [
        document("o:parent", "US 2018/0000401 A1", "2018-06-07", "US 15/800,401", ["US 62/400,401"]),
        document("o:continuation", "US 2019/0000401 A1", "2019-06-06", "US 16/100,401", ["US 15/800,401"]),
        document("o:second continuation", "US 2020/0000401 A1", "2020-06-04", "US 16/700,401", ["US 16/100,401"]),
    ],
    "a continuation in part, with a priority of its own, and what shares that": [
        document("o:cip parent", "US 2018/0000501 A1", "2018-07-05", "US 15/800,501", ["US 62/400,501"]),
        document("o:cip", "US 2019/0000501 A1", "2019-07-04", "US 16/100,501", ["US 62/400,501", "US 15/800,501", "US 62/500,501"]),
        document("o:of the new matter", "WO 2019/050501 A1", "2019-08-01", "PCT/US2018/050501", ["US 62/500,501"]),
    ],
    "divisionals at two offices": [
        document("o:div parent", "EP 3000601 A1", "2016-03-02", "EP 14150601", ["GB 1300601.9"]),
        document("o:div ep", "EP 3300601 A1", "2018-03-07", "EP 17150601", ["GB 1300601.9"]),
        document("o:div us parent", "US 9400601 B2", "2016-07-26", "US 14/600,601", ["GB 1300601.9"]),
        document("o:div us", "US 2017/0000601 A1", "2017-01-05", "US 15/200,601", ["US 14/600,601", "GB 1300601.9"]),
    ],
    "several priorities in another order": [
        document("o:two", "EP 3500701 A1", "2019-08-07", "EP 19150701", ["DE 102018000701.2", "DE 102018000702.0"]),
        document("o:two turned", "US 2019/0000701 A1", "2019-08-08", "US 16/200,701", ["DE 102018000702.0", "DE 102018000701.2"]),
        document("o:one of the two", "CN 110000701 A", "2019-08-09", "CN 201910000701.8", ["DE 102018000702.0"]),
    ],
    "the EPO's own example of an extended family, D1 to D5": [
        document("o:D1", "EP 3500801 A1", "2019-09-04", "EP 19150801", ["FR 1800801"]),
        document("o:D2", "US 2019/0000801 A1", "2019-09-05", "US 16/200,801", ["FR 1800801", "FR 1800802"]),
        document("o:D3", "CN 110000801 A", "2019-09-06", "CN 201910000801.6", ["FR 1800801", "FR 1800802"]),
        document("o:D4", "WO 2019/080804 A1", "2019-09-12", "PCT/FR2019/050804", ["FR 1800802", "FR 1800803"]),
        document("o:D5", "JP 2019-150805 A", "2019-09-19", "JP 2019-050805", ["FR 1800803"]),
    ],
    "publications of one application": [
        document("o:a2", "EP 3500901 A2", "2019-07-10", "EP 19150901"),
        document("o:a3", "EP 3500901 A3", "2019-10-09", "EP 19150901"),
        document("o:a8", "EP 3500901 A8", "2019-11-06", "EP 19150901"),
        document("o:b1", "EP 3500901 B1", "2021-10-06", "EP 19150901"),
        document("o:b2", "EP 3500901 B2", "2024-10-09", "EP 19150901"),
    ],
    "a US application, its correction and its grant": [
        document("o:us a1", "US 2019/0000951 A1", "2019-01-31", "US 16/000,951"),
        document("o:us a2", "US 2019/0100951 A2", "2019-04-04", "US 16/000,951"),
        document("o:us b2", "US 10900951 B2", "2021-01-26", "US 16/000,951"),
    ],
    # Near misses: alike in all but what makes a family.
    "the same applicant and title, no priority stated": [
        document("o:stranger", "US 2019/0000010 A1", "2019-01-03", "US 16/000,010"),
    ],
    "the same applicant and title, another priority": [
        document("o:other priority", "EP 3500011 A1", "2019-07-03", "EP 19150011", ["US 16/000,011"]),
    ],
    "what only cites and is only cited": [
        document("o:citing", "EP 3500012 A1", "2019-07-03", "EP 19150012", ["US 16/000,012"], [
            Relation("cites", StatedIdentifier("publication", "US 2019/0000001 A1")),
            Relation("cited by", StatedIdentifier("publication", "US 2019/0000801 A1")),
        ]),
    ],
    "one office's family 4711": [
        document("o:4711", "EP 3500013 A1", "2019-07-03", "EP 19150013", ["US 16/000,013"], family="4711"),
        document("o:4711 too", "US 2019/0000014 A1", "2019-07-04", "US 16/000,014", family="4711"),
    ],
    "another's family 4711": [
        document("p:4711", "EP 3500015 A1", "2019-07-03", "EP 19150015", ["US 16/000,015"], family="4711"),
    ],
    "serial numbers that are one another's in another series or office": [
        document("o:other series", "US 2019/0000016 A1", "2019-01-03", "US 14/000,001", ["US 62/000,001"]),
    ],
    "a file that is not published, of the same title and people": [
        document("o:unpublished", "", "2019-01-03", "US 16/990,001"),
    ],
    "another such file": [document("p:unpublished", "", "2019-01-03", "US 16/990,002")],
}  # fmt: skip
FIELD = [record for family in FAMILIES.values() for record in family]
# The same documents as a second source has them: each is one document with the first's.
COPIES = [
    document("q:ep", "EP 3500001 A1", "2019-07-03", "EP 19150001", ["US 16/000,001"]),
    document("q:b1", "EP 3500901 B1", "2021-10-06"),
    document("q:D5", "JP 2019-150805 A", "2019-09-19", "JP 2019-050805", ["FR 1800803"]),
]


def by_components(records: Sequence[Record]) -> set[frozenset[str]]:
    """Return the extended families, from the definition alone: documents tied to the filings
    they are of or claim, and documents of one publication number to that; then components."""
    ties: list[tuple[int, int]] = []
    nodes: dict[tuple[str, str], int] = {}
    for record in records:
        own = nodes.setdefault(("document", record.native_id), len(nodes))
        stated = [each for each in record.identifiers if each.scheme in ("publication", "application")]
        stated += [each.identifier for each in record.relations if each.kind == "priority"]
        names = [(each.scheme, normalise(each.scheme, each.text).match_key) for each in stated]
        names += [(f"family of {record.source}", i.text) for i in record.identifiers if i.scheme == "family"]
        ties += [(own, nodes.setdefault(name, len(nodes))) for name in names]
    rows, columns = np.array(ties).T
    graph = coo_array((np.ones(len(ties)), (rows, columns)), shape=(len(nodes), len(nodes)))
    _, part = connected_components(graph, directed=False)
    sets: dict[int, set[str]] = {}
    for (sort, name), node in nodes.items():
        if sort == "document":
            sets.setdefault(int(part[node]), set()).add(name)
    return {frozenset(each) for each in sets.values()}


def by_hand() -> set[frozenset[str]]:
    """Return the families as written down above, the copies with their first."""
    copies = {"o:ep": "q:ep", "o:b1": "q:b1", "o:D5": "q:D5"}
    return {
        frozenset({r.native_id for r in family} | {copies.get(r.native_id, r.native_id) for r in family})
        for family in FAMILIES.values()
    }


def arrivals(records: Sequence[Record], count: int = 12) -> list[tuple[list[Record], list[int]]]:
    """Return orders of arrival with the nights' ends: as written, backwards, and at random."""
    rng = random.Random(4)  # noqa: S311 - planted examples
    found = [
        (list(records), []),
        (list(reversed(records)), []),
        (list(records), list(range(1, len(records)))),
    ]
    for _ in range(count):
        mixed = rng.sample(list(records), len(records))
        found.append((mixed, sorted(rng.sample(range(1, len(records)), rng.randint(0, 6)))))
    return found


def test_the_plans_are_what_the_definition_makes_of_them() -> None:
    """What is written down and what a graph library makes of the definition are one."""
    assert by_components([*FIELD, *COPIES]) == by_hand()


@pytest.mark.parametrize("at", range(15))
def test_families_are_exact_in_any_order_and_over_any_nights(at: int) -> None:
    """All plans in one field, every document alike: the references are the families, no more, no less."""
    order, cuts = arrivals([*FIELD, *COPIES])[at]
    assert sets_of(memberships(order, cuts)) == by_hand()


def test_each_document_is_a_version_of_its_own() -> None:
    """A1 and B1, WO and its national phase are versions; only a second source's copy shares one."""
    for order, cuts in arrivals([*FIELD, *COPIES], 3):
        versions = sets_of(memberships(order, cuts), "version")
        shared = {one for one in versions if len(one) > 1}
        assert shared == {frozenset({f"o:{name}", f"q:{name}"}) for name in ("ep", "b1", "D5")}


REASONS = [
    ("o:ep", "o:first", "same simple family: the same priorities (US-16-1)"),
    ("o:wo prov", "o:us prov", "same simple family: the same priorities (US-62-500101)"),
    ("o:us phase", "o:wo", "extended family: both have priority GB-2017-201"),
    ("o:cn of it", "o:wo first", "same simple family: the same priorities (PCT-JP-2018-301)"),
    ("o:continuation", "o:parent", "extended family: application US-15-800401 of the one is a priority of the other"),
    ("o:cip", "o:cip parent", "extended family: both have priority US-62-400501"),
    ("o:of the new matter", "o:cip", "extended family: both have priority US-62-500501"),
    ("o:two turned", "o:two", "same simple family: the same priorities (DE-10-2018-701, DE-10-2018-702)"),
    ("o:D3", "o:D2", "same simple family: the same priorities (FR-2018-801, FR-2018-802)"),
    ("o:D5", "o:D4", "extended family: both have priority FR-2018-803"),
    ("o:a3", "o:a2", "same publication number EP-3500901, A2 and A3"),
    ("o:us a2", "o:us a1", "same application US-16-951"),
    ("o:4711 too", "o:4711", "same family number o 4711"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "other", "reason"), REASONS, ids=[row[0] for row in REASONS])
def test_each_says_which_family_it_is_of(name: str, other: str, reason: str) -> None:
    """Of two documents the reason says simple or extended, and by which priority."""
    both = {record.native_id: record for record in FIELD}
    found = memberships([both[other], both[name]])
    assert found[name] == {"reference": other, "version": name, "reason": f"{reason}; with {other}"}


def test_a_chain_of_shared_priorities_is_one_extended_family_that_says_so() -> None:
    """EPO, INPADOC family: "directly or indirectly"; D1 and D5 share nothing, each step names what it shares."""
    chain = FAMILIES["the EPO's own example of an extended family, D1 to D5"]
    found = memberships([chain[0], chain[1], chain[3], chain[4]])
    assert {member["reference"] for member in found.values()} == {"o:D1"}
    assert [found[name]["reason"] for name in ("o:D2", "o:D4", "o:D5")] == [
        "extended family: both have priority FR-2018-801; with o:D1",
        "extended family: both have priority FR-2018-802; with o:D2",
        "extended family: both have priority FR-2018-803; with o:D4",
    ]
    apart = memberships([chain[0], chain[4]])
    assert apart["o:D5"]["reference"] == "o:D5", "without what lies between, nothing ties the two"


def test_a_citation_is_no_evidence_of_a_family() -> None:
    """Asked of the two directly, a citation either way says nothing."""
    both = {record.native_id: record for record in FIELD}
    shelf = Shelf(*as_tables([both[name] for name in ("o:first", "o:citing", "o:D2")]))
    assert {kind for kind, _, _ in shelf[1].relations} == {"priority", "cites", "cited by"}
    assert [evidence(shelf[1], shelf[other]) for other in (0, 2)] == [None, None]


def test_a_family_larger_than_any_crowd_is_whole() -> None:
    """Sixty members of one priority, more than a key's bearers that are compared: one reference."""
    crowd = [
        document(f"o:{n}", f"US 2019/01{n:05d} A1", "2019-01-03", f"US 16/3{n:05d}", ["US 62/600,001"])
        for n in range(60)
    ]
    for order, cuts in arrivals(crowd, 3):
        assert sets_of(memberships(order, cuts)) == {frozenset(record.native_id for record in crowd)}


# --- through the store ---------------------------------------------------------------


def keep(folder: Path, night: int, records: Sequence[Record]) -> None:
    """Store what one night brought, each record from its own source."""
    pages = [
        ReadPage(night, f"run {night}", record.source, "all", "file", Parsed(1, (record,)))
        for record in records
    ]
    with open_store(folder) as con:
        for name, table in normalise_pages(pages).items():
            con.register(f"new_{name}", table)
        for name in ("response", "quarantine"):
            con.execute(f"CREATE TEMP TABLE new_{name} AS FROM {name} LIMIT 0")
        con.execute(LOAD.read_text(encoding="utf-8"))


_VERSIONS = """
    SELECT m.reference_id, r.native_id, e.day_from, e.day_to, m.version_id
    FROM membership m JOIN record r USING (record_id) JOIN dated_event e USING (record_id)
    WHERE e.public AND e.stands
"""
_EARLIEST = """
    SELECT f.reference_id, r.native_id, f.public_from, f.public_to
    FROM reference f JOIN record r ON r.record_id = f.public_record
"""


@pytest.mark.parametrize("turned", [False, True])
def test_the_store_holds_families_of_versions_each_with_its_own_day(tmp_path: Path, turned: bool) -> None:
    """Brought over four nights: the references are the families, every version keeps the day its
    document states, and the reference's day is that of its earliest version."""
    records = [*FIELD, *COPIES]
    rng = random.Random(7 + turned)  # noqa: S311 - planted examples
    rng.shuffle(records)
    size = -(-len(records) // 4)
    for night in range(4):
        keep(tmp_path, night + 1, records[night * size : (night + 1) * size])
        count = resolve_references(tmp_path, "m")
    assert count == len(FAMILIES)
    stated = {record.native_id: date.fromisoformat(record.dates[0].text) for record in records}
    with open_store(tmp_path) as con:
        versions, earliest = (con.execute(query).fetchall() for query in (_VERSIONS, _EARLIEST))
    sets: dict[str, set[str]] = {}
    for reference, name, first, last, _ in versions:
        assert (first, last) == (stated[name], stated[name])
        sets.setdefault(reference, set()).add(name)
    assert {frozenset(each) for each in sets.values()} == by_hand()
    assert len({version for *_, version in versions}) == len(FIELD)
    assert len(earliest) == len(FAMILIES)
    for reference, name, first, last in earliest:
        day = min(stated[member] for member in sets[reference])
        assert (first, last, stated[name]) == (day, day, day)


def test_a_member_that_ties_two_families_joins_them_the_night_it_comes(tmp_path: Path) -> None:
    """D1 and D5 are two references until D2 and D4 come; the date is then the earliest of all, and it
    parts again where the middle is gone."""
    chain = {r.native_id: r for r in FAMILIES["the EPO's own example of an extended family, D1 to D5"]}
    counts = []
    for night, names in enumerate((["o:D5"], ["o:D1"], ["o:D4"], ["o:D2"]), 1):
        keep(tmp_path, night, [chain[name] for name in names])
        counts.append(resolve_references(tmp_path, "m"))
    assert counts == [1, 2, 2, 1]
    with open_store(tmp_path) as con:
        assert con.execute("SELECT reference_id, public_from FROM reference").fetchall() == [
            (key(chain["o:D5"]), date(2019, 9, 4))
        ]
        # What loading does with a record that came to lie outside (test_load.py).
        con.execute("UPDATE found SET inside = FALSE WHERE record_id = ?", [key(chain["o:D2"])])
        con.execute("INSERT INTO unresolved VALUES (?)", [key(chain["o:D2"])])
    assert resolve_references(tmp_path, "m") == 2


# --- random family trees ---------------------------------------------------------------

OFFICES = ("US", "EP", "JP", "CN", "PCT", "provisional")


def filing_number(office: str, n: int) -> str:
    """Return an application number of the office; n makes it its own."""
    return {
        "US": f"US 16/{n:06d}", "EP": f"EP 19{n:06d}", "JP": f"JP 2019-{n:06d}", "CN": f"CN 2019{1}{n:07d}",
        "PCT": f"PCT/EP2019/{n:06d}", "provisional": f"US 62/{n:06d}",
    }[office]  # fmt: skip


def publications_of(office: str, n: int) -> list[str]:
    """Return the numbers under which such an application is published; a provisional has none."""
    return {
        "US": [f"US 2019/0{n:06d} A1", f"US 11{n:06d} B2"], "EP": [f"EP 3{n:06d} A1", f"EP 3{n:06d} B1"],
        "JP": [f"JP 2019-{n:06d} A"], "CN": [f"CN 111{n:06d} A", f"CN 111{n:06d} B"],
        "PCT": [f"WO 2019/{n:06d} A1"], "provisional": [],
    }[office]  # fmt: skip


@st.composite
def family_trees(draw: st.DrawFn) -> list[Record]:
    """Draw filings, each with priorities among the earlier ones, and their publications."""
    filings: list[tuple[str, int, list[str]]] = []
    for n in range(1, draw(st.integers(2, 14)) + 1):
        earlier = [filing_number(office, m) for office, m, _ in filings]
        claimed = draw(st.lists(st.sampled_from(earlier), max_size=3, unique=True)) if earlier else []
        office = draw(st.sampled_from(OFFICES))
        filings.append((office, n, [] if office == "provisional" else claimed))
    records = [
        document(f"{source}:{number}", number, "2019-01-03", filing_number(office, n), claimed)
        for office, n, claimed in filings
        for number in publications_of(office, n)
        for source in draw(st.sampled_from(("o", "p", "op")))
        if draw(st.integers(0, 4))  # some documents no source has
    ]
    return draw(st.permutations(records))


@settings(max_examples=150, derandomize=True, deadline=None)
@given(records=family_trees(), data=st.data())
def test_random_family_trees_are_the_components_over_their_priorities(
    records: list[Record], data: Any
) -> None:
    """Whatever claims whatever, in any order, over any nights: references are the components, and
    versions the documents."""
    if not records:
        return
    cuts = data.draw(st.lists(st.integers(1, len(records)), max_size=4))
    told = memberships(records, cuts)
    assert sets_of(told) == by_components(records)
    numbers: dict[str, set[str]] = {}
    for record in records:
        numbers.setdefault(record.identifiers[0].text, set()).add(record.native_id)
    assert sets_of(told, "version") == {frozenset(each) for each in numbers.values()}
    assert {name for name, member in told.items() if member["reason"] == "first seen"} == {
        member["reference"] for member in told.values()
    }


@settings(max_examples=40, derandomize=True, deadline=None)
@given(records=family_trees(), data=st.data())
def test_the_order_of_rows_changes_nothing(records: list[Record], data: Any) -> None:
    """Links and records handed over in another order give the very same rows."""
    tables = as_tables(records)
    ids = tables[0]["record_id"].to_pylist()
    found = links(ids, *tables, NO_VECTORS, NO_RULINGS)
    first = group(found, Shelf(*tables), NO_RULINGS)
    rows, other = (data.draw(st.permutations(range(each.num_rows))) for each in (tables[0], found))
    rows, other = (pa.array(order, pa.int64()) for order in (rows, other))
    again = group(found.take(other), Shelf(tables[0].take(rows), *tables[1:]), NO_RULINGS)
    assert first.equals(again)
