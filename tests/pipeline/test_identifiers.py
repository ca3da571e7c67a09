"""Identifiers other than patent numbers, and free text with several in it."""

from __future__ import annotations

import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.identifier_schemes import SCHEMES
from pipeline.identifiers import LONGEST, arxiv_of_doi, doi_version, normalise, recognise

DOI = "10.5555/abc.12"


def pairs(text: str) -> list[tuple[str, str]]:
    """Return what recognise finds, as (scheme, value)."""
    return [(found.scheme, found.value) for found in recognise(text)]


@pytest.mark.parametrize(
    ("scheme", "text", "value"),
    [
        ("doi", "10.5555/ABC.12", DOI),  # DOI Handbook 2.4: case of ASCII letters has no meaning
        ("doi", "https://doi.org/10.5555/abc.12", DOI),
        ("doi", "http://dx.doi.org/10.5555/abc.12", DOI),
        ("doi", "doi:10.5555/abc.12", DOI),
        ("doi", "DOI: https://doi.org/10.5555/abc.12.", DOI),
        ("doi", "info:doi/10.5555/abc.12", DOI),
        ("doi", "urn:doi:10.5555/abc.12", DOI),
        ("doi", "https://doi.org/10.5555%2Fabc.12", DOI),
        ("doi", "(10.5555/abc.12).", "(10.5555/abc.12)."),  # not a DOI as it stands; recognise finds it
        ("doi", "10.5555/abc.12)", DOI),
        ("doi", "10.5555/abc(12)", "10.5555/abc(12)"),
        ("doi", "10.5555/abc(12)),", "10.5555/abc(12)"),
        ("doi", "10.5555/a&amp;b", "10.5555/a&b"),
        ("doi", "10.5555/a&amp;amp;b", "10.5555/a&b"),
        ("doi", "10.5555/(SICI)1097(199823)43:4&lt;338::AID-1&gt;3.0.CO;2-B",
         "10.5555/(sici)1097(199823)43:4<338::aid-1>3.0.co;2-b"),
        ("doi", "10.5555/Ärger", "10.5555/Ärger"),  # only ASCII letters fold
        ("doi", "https://doi.org/10.5555/abc.12?utm_source=mail", DOI),
        ("doi", "10.1000.10/123456", "10.1000.10/123456"),
        ("arxiv", "arXiv:2311.16162v2", "2311.16162v2"),
        ("arxiv", "https://arxiv.org/pdf/2311.16162v1.pdf", "2311.16162v1"),
        ("arxiv", "http://arxiv.org/abs/0704.0001", "0704.0001"),
        ("arxiv", "arXiv:2311.16162 [cs.IR]", "2311.16162"),
        ("arxiv", "math.GT/0309136", "math/0309136"),
        ("arxiv", "oai:arXiv.org:cond-mat/0207270", "cond-mat/0207270"),
        ("arxiv", "10.48550/arXiv.2311.16162", "2311.16162"),
        ("pmid", "PMID: 0012345", "12345"),
        ("pmid", "https://pubmed.ncbi.nlm.nih.gov/12345678/", "12345678"),
        ("pmcid", "pmc1234567", "PMC1234567"),
        ("pmcid", "https://www.ncbi.nlm.nih.gov/pmc/articles/PMC1234567/", "PMC1234567"),
        ("openalex", "https://openalex.org/W2741809807", "W2741809807"),
        ("isbn", "ISBN 3-16-148410-X", "9783161484100"),  # the example of ISO 2108's users' manual
        ("isbn", "urn:isbn:978-3-16-148410-0", "9783161484100"),
        ("issn", "03785955", "0378-5955"),  # the example of ISO 3297
        ("issn", "ISSN 2434-561x", "2434-561X"),
        ("url", "HTTPS://Www.Example.ORG:443/A?b=2&a=1#top", "https://www.example.org/A?b=2&a=1#top"),
        ("url", "example.org/a", "https://example.org/a"),
        ("publication", "US 9,123,456 B2", "US9123456B2"),
        ("application", "PCT/GB02/04635", "PCTGB2002004635"),
        ("family", "43242148", "43242148"),
    ],
)  # fmt: skip
def test_a_writing_comes_to_its_normal_form(scheme: str, text: str, value: str) -> None:
    """Prefixes, resolvers, wrapping and case go; what names the document stays."""
    assert normalise(scheme, text).value == value


@pytest.mark.parametrize(
    ("scheme", "one", "other"),
    [
        ("arxiv", "2311.16162v1", "2311.16162v3"),
        ("arxiv", "math.GT/0309136v2", "math/0309136"),
        ("doi", "10.5555/ABC", "https://doi.org/10.5555/abc"),
        ("isbn", "3-16-148410-X", "9783161484100"),
        ("url", "http://example.org/a/?id=3&utm_medium=x&gclid=1#part", "https://EXAMPLE.org:443/a?id=3"),
        ("publication", "WO 02/054790 A2", "WO 2002/054790"),
    ],
)
def test_writings_of_one_thing_share_a_key(scheme: str, one: str, other: str) -> None:
    """The match key leaves out versions, kinds, fragments and tracking."""
    assert normalise(scheme, one).match_key == normalise(scheme, other).match_key != ""


@pytest.mark.parametrize(
    ("one", "other"),
    [("https://example.org/a?x=1&y=2", "https://example.org/a?y=2&x=1"),
     ("https://example.org/a?id=1", "https://example.org/a?id=2"),
     ("https://example.org/A", "https://example.org/a"),
     ("https://example.org:8080/a", "https://example.org/a")],
)  # fmt: skip
def test_addresses_that_may_differ_keep_two_keys(one: str, other: str) -> None:
    """Order of parameters, case of the path and other ports are left alone."""
    assert normalise("url", one).match_key != normalise("url", other).match_key


@pytest.mark.parametrize(
    ("scheme", "text", "says"),
    [
        ("doi", "11.5555/abc", "a DOI is"), ("doi", "10.5555/", "a DOI is"), ("doi", "10.5555/a b", "a DOI is"),
        ("doi", "N/A", "a DOI is"), ("arxiv", "2313.16162", "arXiv number"), ("arxiv", "1234567", "arXiv number"),
        ("pmid", "123456789", "PMID"), ("pmid", "0", "PMID"), ("pmcid", "PMCX", "PMCID"),
        ("isbn", "978-3-16-148410-1", "check digit"), ("isbn", "3161484101", "check digit"),
        ("isbn", "9773161484100", "978 or 979"), ("issn", "0378-5956", "check digit"), ("issn", "123", "eight digits"),
        ("url", "javascript:alert(1)", "only http"), ("url", "data:text/html,x", "only http"),
        ("url", "file:///etc/passwd", "only http"), ("url", "https://", "host"), ("url", "http://[", "taken apart"),
        ("url", "https://a.org:99999/", "taken apart"), ("url", "https://a.org/<b>", "angle"),
        ("publication", "1234567", "no office"), ("application", "EN 12345", "EN is not an office"),
        ("family", "", "empty"), ("shelfmark", "Q 12", "the known are doi"), ("doi", "10.5555/abc…", "cut short"),
        ("doi", "10.5555/" + "a" * LONGEST, "cut short"),
    ],
)  # fmt: skip
def test_what_is_not_of_the_scheme_is_kept_with_its_problem_and_matches_nothing(
    scheme: str, text: str, says: str
) -> None:
    """Nothing is dropped and nothing is joined: the cleaned text stays, the key is empty."""
    found = normalise(scheme, text)
    assert says in found.problem
    assert (found.match_key, found.value) == ("", found.text)


@pytest.mark.parametrize(
    ("value", "base", "version"),
    [
        ("10.5555/rs-123/v2", "10.5555/rs-123", "2"), ("10.5555/figure.77.v3", "10.5555/figure.77", "3"),
        ("10.5555/chem-2021-ab1-v2", "10.5555/chem-2021-ab1", "2"), ("10.5555/2020.01.02.123456v1", "10.5555/2020.01.02.123456", "1"),
        ("10.5555/abc", "10.5555/abc", None), ("10.5555/rev", "10.5555/rev", None), ("10.5555/v2", "10.5555/v2", None),
        ("10.5555/solv12", "10.5555/solv12", None), ("10.5555/x.v2019", "10.5555/x.v2019", None),
    ],
)  # fmt: skip
def test_a_version_is_read_off_a_doi(value: str, base: str, version: str | None) -> None:
    """The endings servers use are versions; a v inside a word or a year is none."""
    assert doi_version(value) == (base, version)


@pytest.mark.parametrize(
    ("value", "number"),
    [("10.48550/arxiv.2311.16162", "2311.16162"), ("10.48550/arXiv.math/0309136", "math/0309136"),
     ("10.48550/arxiv.nonsense", None), ("10.5555/arxiv.2311.16162", None)],
)  # fmt: skip
def test_an_arxiv_doi_stands_for_its_number(value: str, number: str | None) -> None:
    """Only the prefix arXiv registers with, and only where a number follows."""
    assert arxiv_of_doi(value) == number


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("US 9,123,456 B2; EP 1 234 567 A1 and WO 2015/123456",
         [("publication", "US9123456B2"), ("publication", "EP1234567A1"), ("publication", "WO2015123456")]),
        ("see U.S. Pat. Nos. 9,123,456; 9,234,567 and 10,345,678, all of 2019",
         [("publication", "US9123456"), ("publication", "US9234567"), ("publication", "US10345678")]),
        ("us9123456b2, ep1234567", [("publication", "US9123456B2"), ("publication", "EP1234567")]),
        ("Filed as U.S. Ser. No. 13/167,395 and 61/761,070 and as PCT/US2024/012345.",
         [("application", "US13167395"), ("application", "US61761070"), ("application", "PCTUS2024012345")]),
        ("US Patent Application Publication No. 2015/0123456 A1", [("publication", "US20150123456A1")]),
        ("EP1234567A1 (see D1: DE 10 2006 032 425 A1)",
         [("publication", "EP1234567A1"), ("publication", "DE102006032425A1")]),
        ("JP-A-63-123456, JP H10-123456 A、特開平6-279146",
         [("publication", "JPS63123456A"), ("publication", "JPH10123456A"), ("publication", "JPH06279146A")]),
        ("EP 1234567 2015-01-02", [("publication", "EP1234567")]),
        ("Published as (doi:10.5555/ABC.12), preprint https://arxiv.org/abs/2311.16162v2 (PMID: 12345678; PMC1234567).",
         [("doi", DOI), ("arxiv", "2311.16162v2"), ("pmid", "12345678"), ("pmcid", "PMC1234567")]),
        ("<a href='https://doi.org/10.5555/abc.12'>10.5555/abc.12</a>", [("doi", DOI)]),
        ("10.48550/arXiv.2311.16162", [("doi", "10.48550/arxiv.2311.16162"), ("arxiv", "2311.16162")]),
        ("EP 10/123,456", [("application", "EP10123456")]),
        ("2311.16162v2", [("arxiv", "2311.16162v2")]),
        ("ISBN 978-3-16-148410-0, ISSN 0378-5955", [("isbn", "9783161484100"), ("issn", "0378-5955")]),
        ("https://example.org/a?id=3, and https://openalex.org/W2741809807",
         [("url", "https://example.org/a?id=3"), ("openalex", "W2741809807")]),
    ],
)  # fmt: skip
def test_free_text_is_taken_apart(text: str, found: list[tuple[str, str]]) -> None:
    """Each number comes out once, in its own scheme, and nothing beside it."""
    assert pairs(text) == found


@pytest.mark.parametrize(
    "text",
    ["", "1234567", "Stanford, CA 94305", "EN 12345 and ISO 9001", "Chicago, IL 60601-1234", "US 2019-12-31",
     "100190 Beijing, CN 100190", "PT 1000-123 Lisboa", "call US 1-800-123-4567", "see No. 1234567 on p. 12",
     "IN 2019 we sold 123456 of them", "grant R01 CA123456", "a valve, 12 mm, 1/2 inch", "de12ab34cd56", "#3"],
)  # fmt: skip
def test_what_only_looks_like_a_number_is_left_alone(text: str) -> None:
    """Post codes, dates, telephones, standards and grant numbers are no patents."""
    assert recognise(text) == []


@pytest.mark.parametrize(
    "number", ["0306406152", "9780306406157", "080442957X", "9791090636071", "0306406153", "9780306406158"]
)
def test_isbn_agrees_with_a_reference_library(number: str) -> None:
    """python-stdnum judges ISBNs, their check digits and their conversion."""
    judge = pytest.importorskip("stdnum.isbn")
    ours = normalise("isbn", number)
    assert (ours.problem == "") is judge.is_valid(number)
    if not ours.problem:
        assert ours.value == judge.to_isbn13(judge.compact(number))


@settings(derandomize=True, max_examples=100, deadline=None)
@given(st.from_regex(r"[0-9]{7}[0-9X]", fullmatch=True))
def test_issn_agrees_with_a_reference_library(number: str) -> None:
    """python-stdnum judges the check digit of any eight characters."""
    judge = pytest.importorskip("stdnum.issn")
    assert (normalise("issn", number).problem == "") is judge.is_valid(number)


@pytest.mark.parametrize(
    "text", ["doi:10.5555/abc", "https://doi.org/10.5555/abc", "10.1000.10/x", "10.5555", "abc", "10./x"]
)
def test_doi_agrees_with_a_reference_library(text: str) -> None:
    """idutils judges what is a DOI, and its form but for case."""
    idutils = pytest.importorskip("idutils")
    ours = normalise("doi", text)
    assert (ours.problem == "") is bool(idutils.is_doi(text))
    if not ours.problem:
        assert ours.value == idutils.normalize_doi(text).lower()


ANY_TEXT = st.one_of(
    st.text(max_size=80),
    st.text(alphabet="10.5/%2Fa&amp;;()<>vXarxiv:-…US9 ,\u200b\ud800", max_size=60),
    st.from_regex(r"(?:doi:|https?://|arXiv:|US |EP)?10?\.?[0-9]{4,5}/?[%&a-z0-9.;()]{0,20}", fullmatch=True),
)


@settings(derandomize=True, max_examples=400, deadline=None)
@given(st.sampled_from([*SCHEMES, "unknown"]), ANY_TEXT)
def test_normalising_never_fails_and_twice_is_once(scheme: str, text: str) -> None:
    """Any text gives an identifier, bounded and storable; its value is its own normal form."""
    once = normalise(scheme, text)
    again = normalise(scheme, once.value)
    assert (again.value, again.match_key) == (once.value, once.match_key)
    assert len(once.value) <= LONGEST + 20 and len(once.problem) < 1000
    assert (once.match_key == "") is bool(once.problem)
    once.value.encode(), once.text.encode()


@settings(derandomize=True, max_examples=200, deadline=None)
@given(ANY_TEXT)
def test_recognising_never_fails_and_finds_only_normal_forms(text: str) -> None:
    """What is found in any text is free of problems and found again in its own value's scheme."""
    for found in recognise(text):
        assert not found.problem
        assert normalise(found.scheme, found.value).match_key == found.match_key


HOSTILE = ["1" * 10**5, "10.5555/" + "a" * 10**5, "10.5555/" + ")" * 10**5, "US " * 33_000, "9,123," * 16_000, "doi:" * 25_000,
           "http://" * 14_000, "%25" * 33_000, "&amp;" * 20_000, "ISBN 9-" * 14_000, "(" * 10**5, " 1" * 50_000,
           "EP 1 234 567 A1 " * 6_000, "arXiv:a-b." * 10_000]  # fmt: skip


@pytest.mark.parametrize("text", HOSTILE, ids=lambda text: text[:12])
def test_hostile_text_costs_time_in_proportion(text: str) -> None:
    """A hundred thousand characters made to hurt are done in a second or so."""
    begun = time.process_time()
    for scheme in SCHEMES:
        normalise(scheme, text)
    assert time.process_time() - begun < 0.3
    recognise(text)
    assert time.process_time() - begun < 3


def test_normalising_is_fast_enough_for_a_firm_s_base() -> None:
    """Twenty thousand a second at the least, so that ten million take minutes, not days."""
    begun = time.process_time()
    for i in range(4_000):
        normalise("doi", f"https://doi.org/10.5555/ABC.{i}")
        normalise("arxiv", f"2311.{i:05d}v1")
        normalise("pmid", str(i + 1))
    assert time.process_time() - begun < 3
