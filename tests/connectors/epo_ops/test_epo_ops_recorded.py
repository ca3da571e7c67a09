"""Recorded answers of EPO OPS are read whole."""

from __future__ import annotations

import pytest

from connectors import epo_ops
from connectors.errors import SourceBusy, SourceRefused, TokenExpired
from tests.connectors.epo_ops.pages import by_id, days_of, recorded, sample, stated


@recorded
def test_recorded_family_gives_every_member_its_day() -> None:
    """EP2400812: five publications, the earliest the Canadian one of 24 December 2011."""
    for name in ("family_EP2400812", "family_biblio_EP2400812"):
        records = by_id(sample(name, step="family"))
        assert {key: days_of(record)[0] for key, record in records.items()} == {
            "EP.2400812.A1": ("publication of application", "2011-12-28"),
            "EP.2400812.B1": ("publication of grant", "2019-11-27"),
            "CA.2744162.A1": ("publication of application", "2011-12-24"),
            "US.2012057518.A1": ("publication of application", "2012-03-08"),
            "US.9648662.B2": ("publication of grant", "2017-05-09"),
        }
        assert ("priority", "2010-06-24") not in days_of(records["EP.2400812.A1"])  # its own number
        assert ("priority", "2010-06-24") in days_of(records["US.9648662.B2"])
        claimed = [r.identifier.text for r in records["CA.2744162.A1"].relations if r.kind == "priority"]
        assert "EP 10167109 A" in claimed
        assert all("family 43088294" in stated(record) for record in records.values())


@recorded
def test_recorded_search_is_read_whole() -> None:
    """Three hits, the capped total, and a Danish translation that is no grant of its own."""
    parsed = epo_ops.parse(sample("search_biblio_pa_siemens_1-3"))
    assert (parsed.items, len(parsed.records)) == (3, 3)
    assert (parsed.stated_total, parsed.total_is_floor) == (10_000, True)
    steam = parsed.records[1]
    assert ("priority", "2023-05-04") in days_of(steam)
    assert "GB20230006615" in [relation.identifier.text for relation in steam.relations]
    assert dict(parsed.records[2].details)["kind of document"].startswith("translation")


@recorded
def test_recorded_list_of_numbers_is_read_whole() -> None:
    """One hundred bare numbers: records without text or day, which say so."""
    page = sample("search_numbers_ti_plastic_1-100")
    parsed = epo_ops.parse(page)
    assert (parsed.items, len(parsed.records), parsed.total_is_floor) == (100, 100, True)
    assert all(not record.dates and "day of publication" in dict(record.details) for record in parsed.records)
    assert epo_ops.pause(page) == 6.0


@recorded
def test_recorded_bibliography_and_abstract() -> None:
    """Three publications of two numbers; a DOI in cited literature; an abstract without family."""
    records = by_id(sample("biblio_two_publications_EP2400812A1_EP2533477A1"))
    assert set(records) == {"EP.2400812.A1", "EP.2533477.A1", "EP.2533477.B1"}
    (cited,) = records["EP.2533477.A1"].relations
    assert cited.identifier.text == "10.1109/WCNC.2006.1683515"
    assert "category X for patent claims 1,2,4-13" in cited.note
    (only,) = epo_ops.parse(sample("abstract_EP2400812A1")).records
    assert only.abstract.startswith("An apparatus enabling establishment of a Bluetooth mesh network")
    assert stated(only) == ["publication EP 2400812 A1"]


@recorded
@pytest.mark.parametrize(
    ("name", "status", "error"),
    [
        ("fault_404_no_results", 404, None),
        ("fault_404_empty_body", 404, None),
        ("error_400_invalid_access_token", 400, TokenExpired),
        ("error_401_client_id_invalid", 401, SourceRefused),
        ("error_403_fair_use_rejected", 403, SourceBusy),  # a minute's quota, by its header
    ],
)
def test_recorded_errors_are_judged(name: str, status: int, error: type[Exception] | None) -> None:
    """No results in both writings are no failure; the others are what they are."""
    page = sample(name, status)
    assert type(epo_ops.judge(page)) is (error or type(None))
    if error is None:
        assert epo_ops.parse(page).items == 0
