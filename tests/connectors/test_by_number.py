"""Sources asked by number: what an answer leads to, and that one bad number loses no other."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from connectors import arxiv, epo_ops, semanticscholar, uspto_odp
from connectors.connector import Page, Request, Sought
from connectors.errors import SourceBusy, SourceRefused, TokenExpired
from connectors.fetch import FetchResult, fetch

HERE = Path(__file__).resolve()
SAMPLES = HERE.parents[2] / ".." / "shared" / "sources" / "samples"
FIXTURES = HERE.parents[2] / "fixtures"
TODAY = date(2026, 11, 25)
needs_samples = pytest.mark.skipif(not SAMPLES.is_dir(), reason="no recorded samples beside the checkout")
NOT_FOUND = b'<fault xmlns="http://ops.epo.org"><code>SERVER.EntityNotFound</code><message>No results</message></fault>'
BAD = b'<fault xmlns="http://ops.epo.org"><code>CLIENT.InvalidReference</code><message>bad</message></fault>'
TWO = (
    Sought("publication", "EP9900001A1", "EP9900001", "EP.9900001.A1"),
    Sought("publication", "EP77", "EP77777", ""),
)
DOCUMENT = b"""<ops:world-patent-data xmlns:ops="http://ops.epo.org" xmlns="http://www.epo.org/exchange">
<exchange-documents><exchange-document family-id="99000001" country="EP" doc-number="9900001" kind="A1">
<bibliographic-data><publication-reference><document-id document-id-type="docdb"><country>EP</country>
<doc-number>9900001</doc-number><kind>A1</kind><date>20190506</date></document-id></publication-reference>
<invention-title lang="en">Emitter</invention-title></bibliographic-data></exchange-document>
</exchange-documents></ops:world-patent-data>"""

# The invented family, but not the mark that it is cut.
FAMILY = (FIXTURES / "epo_ops" / "family.xml").read_bytes().replace(b' truncatedFamily="true"', b"")


def several() -> Request:
    """Return one request for two documents."""
    numbers = (replace(TWO[0], docdb=""), TWO[1])
    [request] = epo_ops.find(numbers).requests
    return request


def run(requests: list[Request], answer: dict[str, tuple[int, bytes]]) -> tuple[FetchResult, list[str]]:
    """Fetch from OPS answering by path and body; return the result and what was sent."""
    sent: list[str] = []

    def send(request: Request) -> Page:
        sent.append(request.body or request.path.removeprefix("rest-services/"))
        status, body = next(value for key, value in answer.items() if key in sent[-1])
        page = Page(request, status, {}, body, TODAY)
        error = epo_ops.judge(page)
        if error:
            raise error
        return page

    result = fetch(
        epo_ops, send, requests, keep=lambda _: None, recall=lambda _: None, today=TODAY, progress=lambda _: None
    )  # fmt: skip
    return result, sent


def test_several_documents_go_into_one_request() -> None:
    """Reference guide 2.1: POST, text/plain, numbers by comma; one alone goes into the address."""
    request = several()
    assert (request.method, request.body) == ("POST", "EP9900001,EP77777")
    assert ("Content-Type", "text/plain") in request.headers
    [alone] = epo_ops.find(TWO[:1]).requests
    assert alone.path.endswith("publication/docdb/EP.9900001.A1/biblio")


def test_each_family_found_is_looked_up() -> None:
    """The document asked for may be the later of two: its family has the dates of the others."""
    result, sent = run([several()], {"family/": (200, FAMILY), "EP9900001": (200, DOCUMENT)})
    assert sent == ["EP9900001,EP77777", "family/publication/docdb/EP.9900001.A1/biblio"]
    assert result.outcome == "complete", result.reason
    assert result.records > 1


@pytest.mark.parametrize(
    ("status", "body"), [(404, NOT_FOUND), (404, BAD), (404, b""), (400, BAD), (413, BAD)]
)
def test_where_all_fail_together_each_is_asked_alone(status: int, body: bytes) -> None:
    """One bad number can fail a request of many: the good one comes, and the bad one is counted where refused."""
    answers = {
        ",": (status, body),
        "family/": (200, FAMILY),
        "EP9900001": (200, DOCUMENT),
        "EP77777": (status, body),
    }
    result, sent = run([several()], answers)
    assert sent[0] == "EP9900001,EP77777"
    assert [path for path in sent[1:] if "published-data" in path] == [
        "published-data/publication/epodoc/EP9900001/biblio",
        "published-data/publication/epodoc/EP77777/biblio",
    ]
    assert result.outcome == "complete", result.reason
    assert result.quarantined == (0 if not body or body == NOT_FOUND else 1)


def test_a_quota_or_a_token_is_no_bad_number() -> None:
    """What is about the source stops the source, whatever step it was."""
    request = several()
    expired = b"<error><code>400</code><message>invalid_access_token</message></error>"
    assert isinstance(epo_ops.judge(Page(request, 400, {}, expired, TODAY)), TokenExpired)
    assert isinstance(epo_ops.judge(Page(request, 403, {}, b"", TODAY)), SourceRefused)
    assert isinstance(epo_ops.judge(Page(request, 503, {}, b"", TODAY)), SourceBusy)


def test_documents_are_paced_as_retrieval() -> None:
    """Reference guide, table 16: published-data by number is the service 'retrieval'."""
    header = {
        "x-throttling-control": "busy (images=green:100, inpadoc=red:45, retrieval=yellow:100, search=black:0)"
    }
    assert epo_ops.pause(Page(several(), 200, header, b"", TODAY)) == pytest.approx(2.0)


@needs_samples
def test_arxiv_leaves_out_what_it_does_not_know() -> None:
    """SAMPLES.md: of two numbers asked one is silently missing; an unknown one gives an empty feed."""
    [request] = arxiv.find((Sought("arxiv", "0808.05394"), Sought("arxiv", "1707.08567"))).requests
    for name, count in (("id_list_two_ids_one_missing", 1), ("id_unknown_empty_feed", 0)):
        page = Page(request, 200, {}, (SAMPLES / "arxiv" / f"{name}.xml").read_bytes(), TODAY)
        assert arxiv.judge(page) is None
        assert arxiv.parse(page).items == count
        assert arxiv.follow(request, page, TODAY) == []


def test_a_file_wrapper_is_found_by_any_of_its_numbers() -> None:
    """Published application with its kind, patents of every series, an application; other offices not."""
    numbers = [
        ("publication", text) for text in ("US20150123456A1", "US20150123457", "US9123456B2", "USD987654S1")
    ]
    numbers += [("publication", "USRE49999E1"), ("application", "US17248024"), ("publication", "EP1027777B1")]
    [request] = uspto_odp.find(tuple(Sought(scheme, text) for scheme, text in numbers)).requests
    query = request.state[0][1].replace("applicationMetaData.", "")
    assert query.split(" OR ") == [
        "earliestPublicationNumber:US20150123456A1",
        "earliestPublicationNumber:US20150123457A1",
        "patentNumber:9123456",
        "patentNumber:D987654",
        "patentNumber:RE49999",
        "applicationNumberText:17248024",
    ]
    assert uspto_odp.find((Sought("publication", "EP1027777B1"),)).requests == ()


def test_no_file_by_a_number_is_an_empty_answer() -> None:
    """The portal's 404 means that it holds none."""
    [request] = uspto_odp.find((Sought("publication", "US9123456B2"),)).requests
    page = Page(request, 404, {}, (FIXTURES / "uspto_odp" / "empty.json").read_bytes(), TODAY)
    assert uspto_odp.judge(page) is None
    assert uspto_odp.follow(request, page, TODAY) == []


def links(name: str, status: int = 200) -> Page:
    """Return a recorded answer as that to the list of a paper's references."""
    [request] = semanticscholar.cited((Sought("doi", "10.5555/a"),)).requests
    return Page(request, status, {}, (SAMPLES / "semanticscholar" / f"{name}.json").read_bytes(), TODAY)


@needs_samples
def test_a_list_of_references_is_read_row_by_row() -> None:
    """SAMPLES.md: 10 of 50 cited papers have no number; they are set aside, and the next 50 are asked for."""
    page = links("references_page_null_paper_ids")
    parsed = semanticscholar.parse(page)
    assert (parsed.items, len(parsed.records), len(parsed.quarantined)) == (50, 40, 10)
    assert {bad.path.partition(".")[2] for bad in parsed.quarantined} == {"citedPaper.paperId"}
    [onward] = semanticscholar.follow(page.request, page, TODAY)
    assert dict(onward.params)["offset"] == "50"
    assert semanticscholar.follow(page.request, replace(page, body=b'{"offset": 0, "data": []}'), TODAY) == []


@needs_samples
def test_a_paper_that_is_not_known_has_no_list() -> None:
    """SAMPLES.md: 404 for an unknown paper; of a search the same is an error."""
    page = links("error_404_unknown_paper", 404)
    assert semanticscholar.judge(page) is None
    assert semanticscholar.parse(page).items == 0
    assert semanticscholar.follow(page.request, page, TODAY) == []
    search = replace(page, request=replace(page.request, path="paper/search/bulk"))
    assert isinstance(semanticscholar.judge(search), SourceRefused)
