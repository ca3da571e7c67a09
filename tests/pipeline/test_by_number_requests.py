"""What each source is asked by number, in its own writing."""

from __future__ import annotations

import json

import pytest

from connectors.registry import BY_NUMBER
from pipeline.by_number import sought

NUMBERS = tuple(
    sought(scheme, value)
    for scheme, value in (
        ("doi", "10.5555/a"), ("arxiv", "2101.00001v2"), ("pmid", "77"), ("openalex", "W9"),
        ("publication", "US20150123456A1"), ("publication", "EP1027777"), ("publication", "US9123456B2"),
    )
)  # fmt: skip
ASKED = {
    "europepmc": ['DOI:"10.5555/a" OR (EXT_ID:"77" AND SRC:MED)'],
    "datacite": ['doi:("10.5555/a" OR "10.48550/arxiv.2101.00001")'],
    "semanticscholar": ['{"ids": ["DOI:10.5555/a", "ARXIV:2101.00001", "PMID:77"]}'],
    "openalex": ["openalex:W9", "doi:10.5555/a|10.48550/arxiv.2101.00001", "pmid:77"],
    "crossref": ["doi:10.5555/a"],
    "arxiv": ["2101.00001v2"],
    "epo_ops": [
        "US.2015123456.A1,US.9123456.B2",
        "rest-services/published-data/publication/epodoc/EP1027777/biblio",
    ],
    "uspto_odp": [
        "applicationMetaData.earliestPublicationNumber:US20150123456A1 OR applicationMetaData.patentNumber:9123456"
    ],
    "uspto_bulk": ['["publication US20150123456A1", "publication EP1027777", "publication US9123456B2"]'],
}


@pytest.mark.parametrize("name", BY_NUMBER)
def test_each_source_is_asked_by_the_numbers_it_knows(name: str) -> None:
    """And in its own writing; of numbers it does not know nothing is sent."""
    requests = BY_NUMBER[name].find(NUMBERS).requests
    told = []
    for request in requests:
        params = dict(request.params)
        body = json.loads(request.body).get("q", request.body) if request.body[:1] == "{" else request.body
        told.append(
            next((params[each] for each in ("filter", "query", "id_list", "numbers") if each in params), "")
            or body
            or request.path
        )
        assert request.step == "numbers"
    assert told == ASKED[name]
    assert BY_NUMBER[name].find((sought("isbn", "9783161484100"),)).requests == ()


def test_citing_documents_are_searched_for_where_a_source_can_tell() -> None:
    """OpenAlex by its own numbers, OPS by any publication number, ten a request; the others not."""
    [works] = BY_NUMBER["openalex"].citing(NUMBERS).requests
    assert dict(works.params)["filter"] == "cites:W9"
    [documents] = BY_NUMBER["epo_ops"].citing(NUMBERS).requests
    assert dict(documents.params)["q"] == "ct=US20150123456 or ct=EP1027777 or ct=US9123456"
    many = tuple(sought("publication", f"EP10277{n}") for n in range(10, 35))
    assert len(BY_NUMBER["epo_ops"].citing(many).requests) == 3
    for name in ("crossref", "arxiv", "uspto_odp"):
        assert BY_NUMBER[name].citing(NUMBERS).requests == ()
    for step, requests in (
        ("citations", BY_NUMBER["semanticscholar"].citing),
        ("references", BY_NUMBER["semanticscholar"].cited),
    ):
        paths = [request.path for request in requests(NUMBERS).requests]
        assert paths == [f"paper/{name}/{step}" for name in ("DOI:10.5555/a", "ARXIV:2101.00001", "PMID:77")]
