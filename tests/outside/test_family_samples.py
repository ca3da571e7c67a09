"""Real documents and answers as the offices issued them, through our connectors and the real
de-duplication: which come together is what they state of one another, and nothing else does.

Samples: ../shared/sources/samples (US bulk files, Open Data Portal, EPO Open Patent Services);
the facts named here stand in their SAMPLES.md and in the documents. Where a sample has but one
member of a family, the others are written here from what it states of them: the parent of US
11646472 is 16/695,054, granted as US 10916753, and so on up its chain.
"""

from __future__ import annotations

import gzip
import io
import json
import random
from collections.abc import Callable, Sequence
from datetime import date
from functools import cache
from pathlib import Path

import pytest

from connectors import epo_ops, uspto_odp
from connectors.connector import Page, Parsed, Request
from connectors.record import Record
from connectors.uspto_bulk_file import read_items
from connectors.uspto_record import read_records
from pipeline.identifiers import normalise
from tests.pipeline.resolving import document, memberships, sets_of

SAMPLES = Path(__file__).resolve().parents[2] / "../shared/sources/samples"
pytestmark = pytest.mark.skipif(
    not SAMPLES.is_dir(), reason="the recorded answers are not beside the checkout"
)
DAY = date(2026, 11, 25)


@cache
def bulk(name: str) -> tuple[Record, ...]:
    """Return the records of a bulk document: its own, and its earlier publications."""
    (path,) = (SAMPLES / "uspto_bulk").glob(name)
    raw = gzip.decompress(path.read_bytes()) if path.suffix == ".gz" else path.read_bytes()
    (found,) = read_items(io.BytesIO(raw).read)
    assert found.document, found.problem
    return tuple(read_records("uspto_bulk", found.document))


def _parsed(parse: Callable[[Page], Parsed], source: str, step: str, body: bytes) -> tuple[Record, ...]:
    return tuple(parse(Page(Request(source, "x", step=step), 200, {}, body, DAY)).records)


@cache
def portal(name: str) -> tuple[Record, ...]:
    """Return the records of a recorded answer of the Open Data Portal."""
    return _parsed(uspto_odp.parse, "uspto_odp", "search", (SAMPLES / f"uspto_odp/{name}.json").read_bytes())


@cache
def ops(name: str, step: str = "search") -> tuple[Record, ...]:
    """Return the records of a recorded answer of the EPO."""
    return _parsed(epo_ops.parse, "epo_ops", step, (SAMPLES / f"epo_ops/{name}.xml").read_bytes())


@cache
def beta(number: str) -> tuple[Record, ...]:
    """Return the records of a file recorded in the beta service's shape, put into today's wrapper."""
    (old,) = json.loads((SAMPLES / f"uspto_odp/beta2024_application_{number}.json").read_bytes())["patentBag"]
    file = {"applicationNumberText": number, "applicationMetaData": old, **old["continuityBag"]}
    body = json.dumps({"count": 1, "patentFileWrapperDataBag": [file]}).encode()
    return _parsed(uspto_odp.parse, "uspto_odp", "search", body)


def whole() -> list[Record]:
    """Return every document of the samples, each record once."""
    found = [record for path in sorted((SAMPLES / "uspto_bulk").glob("*_*.*")) if path.suffix in (".xml", ".txt", ".gz")
             for record in bulk(path.name)]  # fmt: skip
    found += [*portal("application_17248024"), *portal("search_patents_reserialised"), *beta("14230558")]
    found += ops("family_biblio_EP2400812", "family")
    found += ops("search_biblio_pa_siemens_1-3")
    found += ops("biblio_two_publications_EP2400812A1_EP2533477A1")
    return list({(record.source, record.native_id): record for record in found}.values())


def named(record: Record) -> str:
    """Return the document's number, else the record's own name."""
    number = next((each.text for each in record.identifiers if each.scheme == "publication"), "")
    return normalise("publication", number).value if number else record.native_id


# Of all samples: what is more than one document, by number. Everything else stays alone.
TOGETHER = [
    # One application: the grant in the weekly file, its early publication there, both in the portal.
    {"US11646472B2", "US20210210819A1", "US11646472"},
    {"US10000000B2", "US20160266243A1"},
    {"US7997973B2", "US20090291732A1"},
    {"US20150075015A2", "US20140237828A1"},  # the print again under another number
    {"US20140226420A1", "US9111608"},  # the portal's file 14/230,558
    # EPO: one DOCDB family 43088294, all of the priority EP 10167109.
    {"EP2400812A1", "EP2400812B1", "CA2744162A1", "US20120057518A1", "US9648662B2"},
    {"EP2533477A1", "EP2533477B1"},  # the same applicant, inventors and field: another filing, another family
]  # fmt: skip


def orders(records: Sequence[Record]) -> list[list[Record]]:
    """Return the records in several orders of arrival."""
    rng = random.Random(3)  # noqa: S311 - planted examples
    return [
        list(records),
        list(reversed(records)),
        *(rng.sample(list(records), len(records)) for _ in range(3)),
    ]


def test_the_samples_are_the_families_they_state() -> None:
    """All documents of all samples in one field, in several orders and over nights: exactly these together."""
    records = whole()
    number = {record.native_id: named(record) for record in records}
    assert len(records) >= 25
    for at, order in enumerate(orders(records)):
        told = memberships(order, [] if at % 2 else [5, 12, 20])
        found = [{number[name] for name in one} for one in sets_of(told)]
        assert sorted(map(sorted, (one for one in found if len(one) > 1))) == sorted(map(sorted, TOGETHER))
        assert len(found) == len(set(number.values())) - sum(len(one) - 1 for one in TOGETHER)


def test_one_document_of_two_services_is_one_version() -> None:
    """The portal's US 11646472 and the weekly file's are one version; so are their early publications."""
    records = [*bulk("grant_v47*"), *portal("application_17248024")]
    number = {record.native_id: named(record).removesuffix("B2") for record in records}
    versions = [sorted(number[name] for name in one) for one in sets_of(memberships(records), "version")]
    assert sorted(versions) == [["US11646472"] * 2, ["US20210210819A1"] * 2]


# The chain above US 11646472 as the document states it: application, patent, day filed, kind of link.
CHAIN = [
    ("US 16/695,054", "US 10916753 B2"), ("US 15/487,364", "US 10529971 B2"), ("US 15/150,231", "US 9666850 B2"),
    ("US 10/824,944", "US 7282295 B2"),
]  # fmt: skip
ELSEWHERE = [
    # A document of another office that relies on the provisional the US one names.
    document("epo_ops:WO of a provisional", "WO 2014/123456 A1", "2014-08-14", "PCT/US2014/099001", ["US 61/763,412"]),
    document("epo_ops:EP, the EPO's writing", "EP 1658650 A1", "2006-05-24", "EP 04751111", ["US 54253204 P", "US 54823104 P"]),
]  # fmt: skip


def test_parents_and_provisionals_of_a_recorded_chain_join() -> None:
    """Continuations, continuation in part, division and provisionals of US 11646472: each ancestor and
    whatever shares a provisional is of its family, and the near misses are not."""
    ancestors = [
        document(
            f"other:{number}", number, "2015-01-01", application, kind="patent", title="Seawater battery"
        )
        for application, number in CHAIN
    ]
    strangers = [
        document("other:next serial", "US 10916754 B2", "2021-02-09", "US 16/695,055", title="Seawater battery"),
        document("other:same serial, other series", "US 9999999 B2", "2018-06-19", "US 14/695,054", title="Seawater battery"),
        document("other:an application of the provisional's serial and year", "US 2004/0200001 A1", "2004-10-07", "US 54253204 A"),
    ]  # fmt: skip
    for own in (bulk("grant_v47*")[:1], portal("application_17248024")[1:]):
        for order in orders([*own, *ancestors, *ELSEWHERE, *strangers]):
            found = {frozenset(one) for one in sets_of(memberships(order))}
            assert found == {
                frozenset({own[0].native_id, *(r.native_id for r in (*ancestors, *ELSEWHERE))}),
                *(frozenset({stranger.native_id}) for stranger in strangers),
            }


REASONS = [
    # sample, the other document (its own number and patent), why they are one
    ("grant_v47*", CHAIN[0], "extended family: both have priority US-16-695054"),
    ("application_v44_US2015*", ("US 13/030,752", "US 2011/0203453 A1"),
     "extended family: both have priority US-13-30752"),
    ("grant_v44_USD*", ("US 29/363,465", "US D655888 S1"),
     "extended family: both have priority US-29-363465"),
    ("grant_v42*", ("US 11/470,250", "US 7585217 B2"),
     "same simple family: the same priorities (US-11-470250)"),
]  # fmt: skip


@pytest.mark.parametrize(("sample", "parent", "reason"), REASONS, ids=[row[0] for row in REASONS])
def test_a_parent_by_itself_joins_and_says_why(sample: str, parent: tuple[str, str], reason: str) -> None:
    """Continuation, division of a design, continuation in part: by the application the sample names."""
    own = bulk(sample)[0]
    older = document("other:parent", parent[1], "2011-01-06", parent[0], kind="patent")
    found = memberships([older, own])
    assert found[own.native_id]["reference"] == "other:parent"
    assert found[own.native_id]["reason"] == f"{reason}; with other:parent"


FOREIGN = [
    ("application_v44_US2018*", document("other:jp", "JP 2018-000016 A", "2018-01-11", "JP 2016-128835")),
    ("application_v45*", document("other:wo", "WO 2020/183226 A1", "2020-09-17", "PCT/IB2019/057948")),
    ("grant_patdoc25*", document("other:wo of 60/115,394", "WO 00/42710 A1", "2000-07-20", "PCT/US2000/000676", ["US 11539499 P"])),
    ("grant_v44_USD*", document("other:em", "", "2010-01-05", "EM 001184956-0001", kind="design")),
]  # fmt: skip


@pytest.mark.parametrize(("sample", "other"), FOREIGN, ids=[row[0] for row in FOREIGN])
def test_foreign_international_and_provisional_priorities_join(sample: str, other: Record) -> None:
    """A Japanese first filing, the international application of a national phase (371), a provisional in
    the EPO's writing, a Community design: each with the US document that names it, and only with that."""
    everything = [
        *(
            r
            for path in (SAMPLES / "uspto_bulk").glob("*_*.*")
            if path.suffix != ".dtd"
            for r in bulk(path.name)
        ),
        other,
    ]
    told = memberships(everything)
    found = next(one for one in sets_of(told) if other.native_id in one)
    assert found == {other.native_id, *(r.native_id for r in bulk(sample))}


def test_a_file_of_the_portal_joins_its_parent_by_the_chain() -> None:
    """14/230,558 is a continuation of 13/656,238, US 8688399: that is of its family, the next number not."""
    own = beta("14230558")
    parent = document("other:parent", "US 8688399 B2", "2014-04-01", "US 13/656,238", kind="patent")
    stranger = document("other:stranger", "US 8688400 B2", "2014-04-01", "US 13/656,239", kind="patent")
    assert sets_of(memberships([parent, *own, stranger])) == {
        frozenset({"other:parent", *(record.native_id for record in own)}),
        frozenset({"other:stranger"}),
    }


def test_a_family_is_whole_without_the_office_s_family_number() -> None:
    """The five of EP2400812 by priorities alone, as another source would state them."""
    members = [
        Record(
            **{**vars(record), "identifiers": tuple(i for i in record.identifiers if i.scheme != "family")}
        )
        for record in ops("family_EP2400812", "family")
    ]
    for order in orders(members):
        assert sets_of(memberships(order)) == {frozenset(record.native_id for record in members)}
        assert len(sets_of(memberships(order), "version")) == 5
