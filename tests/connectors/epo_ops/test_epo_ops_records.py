"""What the documents of EPO OPS state."""

from __future__ import annotations

from pathlib import Path

import pytest

from connectors import epo_ops
from connectors.connector import Page
from connectors.errors import SourceChanged
from tests.connectors.epo_ops.pages import FIXTURES, days_of, fault, fixture, page_of, search_answer, stated


def test_ordinary_page_is_read_whole() -> None:
    """Titles by language, people without country, classes once each, citations with category."""
    parsed = epo_ops.parse(fixture("ordinary.xml"))
    assert (parsed.items, parsed.stated_total, parsed.total_is_floor) == (3, 3, False)
    ep, us, dk = parsed.records
    assert (ep.native_id, ep.kind, ep.version, ep.language) == (
        "EP.8800001.A1",
        "patent application",
        "A1",
        "en",
    )
    assert ep.title == "Drip emitter that flushes itself"
    assert ("title (fr)", "GOUTTEUR") in ep.details and ("abstract (fr)", "Un goutteur.") in ep.details
    assert stated(ep) == [
        "publication EP 8800001 A1", "application EP 20980001 A", "application EP20200980001", "family 99000001",
    ]  # fmt: skip
    assert days_of(ep) == [("publication of application", "2022-03-16"), ("filed", "2020-09-15")]
    assert [(p.name, p.role) for p in ep.people] == [
        ("WERK NORD GMBH", "applicant"),
        ("QUELL ADA", "inventor"),
    ]
    assert ep.codes == (("IPC", "A01G 25/02"), ("IPC", "B05B 1/3006"), ("CPC", "A01G 25/023"))
    assert [(r.kind, r.identifier.text) for r in ep.relations] == [
        ("cites", "WO 9988001 A1"), ("cites", "10.5555/sand.1998.7"),
    ]  # fmt: skip
    assert ep.relations[0].note == (
        "category XI for patent claims 1-4; category A for patent claims 5; search; cited by examiner"
    )
    assert (
        "cites (literature)",
        "Catalogue of Werk Nord, 1997 [category Y; search; cited by examiner]",
    ) in ep.details
    assert [p.name for p in us.people] == ["SAND, Cleo"]
    assert (dk.kind, dk.title, dk.language) == ("patent", "DRYPPER", "")
    assert "translation" in dict(dk.details)["kind of document"]


def test_application_named_as_its_own_priority_claims_nothing() -> None:
    """The database puts the application itself where no earlier right exists."""
    ep, us, _ = epo_ops.parse(fixture("ordinary.xml")).records
    assert all(kind != "priority" for kind, _ in days_of(ep))
    assert "the application itself" in dict(ep.details)["priority"]
    assert days_of(us) == [
        ("publication of grant", "2023-06-06"),
        ("filed", "2020-09-14"),
        ("priority", "2019-09-16"),
        ("priority", "2020-09-14"),
    ]
    assert [(r.identifier.text, "national phase" in r.note) for r in us.relations] == [
        ("US201962998001P", False), ("WO2020US98001", True),
    ]  # fmt: skip


def test_odd_documents_are_read_or_quarantined() -> None:
    """No day is not a guess, a vague day stays vague, placeholders are no records."""
    parsed = epo_ops.parse(fixture("odd.xml"))
    assert parsed.items == 7 == len(parsed.records) + len(parsed.quarantined)
    records = {record.native_id: record for record in parsed.records}
    assert records["JP.H0698001.A"].dates == ()
    assert "00000000" in dict(records["JP.H0698001.A"].details)["day of publication"]
    assert records["JP.H0698001.A"].title == "点滴"
    assert days_of(records["FR.998002.A"]) == [("publication of application", "1935")]
    assert days_of(records["DE.8498003.U1"]) == [("published", "1984-03")]
    assert records["DE.8498003.U1"].kind == "utility model"
    reasons = [item.reason for item in parsed.quarantined]
    assert [("not found" in r, "publication number" in r, "no data" in r) for r in reasons] == [
        (True, False, False), (False, True, False), (False, False, True),
    ]  # fmt: skip
    assert all(item.excerpt.startswith("<exchange-document") and item.path for item in parsed.quarantined)


def test_family_brings_the_other_members() -> None:
    """Prefixes differ, members come with and without text, and a cut family says so."""
    page = fixture("family.xml", step="family")
    parsed = epo_ops.parse(page)
    assert (parsed.items, parsed.stated_total) == (3, None)
    assert "larger" in parsed.partial
    ep, ca, grant = parsed.records
    assert ep.title and not ca.title
    assert days_of(ca)[0] == ("publication of application", "2021-03-15")  # a year before the EP one
    assert [(r.kind, r.identifier.text, r.note) for r in ca.relations] == [
        ("priority", "EP 20980001 A", "regional; active")
    ]
    assert days_of(grant)[0] == ("publication of grant", "2023-08-02")
    assert all(kind != "priority" for kind, _ in days_of(ep) + days_of(grant))


def test_refused_look_up_is_quarantined() -> None:
    """A family that can't be looked up is an item with its reason; the source goes on."""
    parsed = epo_ops.parse(page_of(fault("CLIENT.InvalidReference"), 404, "family"))
    assert (parsed.items, parsed.records) == (1, ())
    assert "404" in parsed.quarantined[0].reason
    assert "InvalidReference" in parsed.quarantined[0].excerpt


@pytest.mark.parametrize(
    "page",
    [
        fixture("torn.xml"),
        page_of(b""),
        page_of(b"<!DOCTYPE html><html/>"),
        page_of(b"<x/>"),
        page_of(b'<o:world-patent-data xmlns:o="http://ops.epo.org"/>'),
        page_of(search_answer(3, 1).replace(b'"3"', b'"many"')),
        page_of(b'<!DOCTYPE x [<!ENTITY e "y">]><o:world-patent-data xmlns:o="http://ops.epo.org"/>'),
    ],
    ids=["torn", "empty", "html", "another root", "no documents", "no total", "entities"],
)
def test_what_the_guide_does_not_describe_is_a_changed_source(page: Page) -> None:
    """Parsing refuses it with the place."""
    with pytest.raises(SourceChanged):
        epo_ops.parse(page)


def test_total_of_ten_thousand_is_a_floor() -> None:
    """total-result-count goes no higher, whatever the truth."""
    assert epo_ops.parse(page_of(search_answer(10_000, 1))).total_is_floor
    assert not epo_ops.parse(page_of(search_answer(9_999, 1))).total_is_floor


def test_every_fixture_is_used() -> None:
    """No fixture lies about unread."""
    text = "".join(path.read_text() for path in Path(__file__).parent.glob("test_*.py"))
    assert all(f'"{path.name}"' in text for path in FIXTURES.iterdir())
