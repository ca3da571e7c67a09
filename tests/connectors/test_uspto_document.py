"""US documents read: every kind of right, its days, numbers, claims, chain and term. All invented."""

from __future__ import annotations

import json
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from connectors.errors import SourceChanged
from connectors.record import PUBLIC_EVENTS, Record
from connectors.uspto_bulk_file import Item, read_items
from connectors.uspto_claims import standing
from connectors.uspto_facts import NATIONAL_PHASE, Claim, Number, UsDocument, facts_from, facts_json
from connectors.uspto_markup import read_root, readable
from connectors.uspto_numbers import application_text, packed_ipc, plain_number, publication_text, unpacked
from connectors.uspto_record import earlier_publications, read_records

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures/uspto_bulk"


def item(name: str, **changes: str) -> Item:
    """Return the one item of a fixture, with texts in it replaced."""
    text = (FIXTURES / f"{name}.xml").read_text(encoding="utf-8")
    for old, new in changes.items():
        assert old in text
        text = text.replace(old, new)
    sent = iter([text.encode(), b""])
    (found,) = read_items(lambda _: next(sent))
    return found


def document(name: str, **changes: str) -> UsDocument:
    """Return what the fixture states."""
    found = item(name, **changes)
    assert found.document, found.problem
    return found.document


def records(name: str) -> list[Record]:
    """Return the fixture's records, its own first."""
    return read_records("uspto_bulk", document(name))


@pytest.mark.parametrize(
    ("name", "native_id", "kind", "event", "day"),
    [
        ("grant", "US.19999001.B2", "patent", "publication of grant", "2024-06-11"),
        (
            "application",
            "US.20249999002.A1",
            "patent application",
            "publication of application",
            "2024-01-11",
        ),
        ("design", "US.D999903.S1", "design", "published", "2024-06-11"),
        ("plant", "US.PP99904.P2", "patent", "publication of grant", "2024-06-11"),
        ("reissue", "US.RE99905.E1", "patent", "publication of grant", "2024-06-11"),
        ("registration", "US.H9906.H1", "other", "published", "2011-08-09"),
    ],
)
def test_each_kind_of_right(name: str, native_id: str, kind: str, event: str, day: str) -> None:
    """Number without its zeros, kind, and the day of issue as the one public day (uspto_bulk.md)."""
    own = records(name)[0]
    assert (own.native_id, own.kind) == (native_id, kind)
    assert [(stated.kind, stated.days.text()) for stated in own.dates if PUBLIC_EVENTS[stated.kind]] == [
        (event, day)
    ]
    assert own.identifiers[0].text == native_id.replace(".", " ")


def test_the_earlier_publication_is_a_record_of_its_own() -> None:
    """What the application disclosed was public from its first publication; that day is that version's."""
    _, earlier = records("grant")
    assert earlier.identifiers[0].text == "US 20229999001 A1"
    assert [(stated.kind, stated.days.text()) for stated in earlier.dates] == [
        ("publication of application", "2022-09-15")
    ]
    assert earlier.title == ""
    assert ("application", "US 19990001") in [(each.scheme, each.text) for each in earlier.identifiers]


def test_the_international_publication_is_a_record_of_its_own() -> None:
    """A national phase's international publication is months older; the kind "A " is not made up to A1."""
    own, earlier = records("application")
    assert earlier.identifiers == (earlier.identifiers[0],)
    assert earlier.identifiers[0].text == "WO 2023/999902"
    assert earlier.dates[0].days.text() == "2023-03-16"
    assert [each.identifier.text for each in own.relations if each.kind == "family"] == ["WO 2023/999902"]


@pytest.mark.parametrize("day", ["20240611", "20240700", "2024", "0", ""])
def test_what_is_not_certainly_earlier_is_no_earlier_publication(day: str) -> None:
    """The same day, a month or a year that may lie after it, or no day: a relation, not a version."""
    changed = document("grant", **{"<date>20220915</date>": f"<date>{day}</date>"})
    assert earlier_publications(changed) == ()
    relations = read_records("uspto_bulk", changed)[0].relations
    assert "same application" in [each.kind for each in relations]


def test_the_day_of_making_is_never_a_day() -> None:
    """date-produced lies days before issue and is not public (uspto_bulk.md, public-date traps)."""
    assert "20240528" not in facts_json(document("grant"))


def test_priorities_are_foreign_provisional_and_the_chain() -> None:
    """Each with its day, none of them public."""
    own = records("grant")[0]
    stated = [(each.days.text(), each.note) for each in own.dates if each.kind == "priority"]
    assert stated == [
        ("2019-03-04", "DE 10 2019 999 901.1: national priority"),
        ("2019-04-01", "US 62999903: provisional application"),
        ("2020-03-02", "US 19980002: US 19990001 is its continuation in part"),
    ]
    assert not any(PUBLIC_EVENTS[kind] for kind in ("priority", "filed"))
    numbers = [each.identifier.text for each in own.relations if each.kind == "priority"]
    assert numbers == ["DE 10 2019 999 901.1", "US 62999903", "US 19980002"]


def test_a_reissue_is_of_the_family_of_its_original() -> None:
    """By the original's patent and by its application: its early publication bears only the latter."""
    stated = [(r.identifier.scheme, r.identifier.text) for r in records("reissue")[0].relations]
    assert stated == [("application", "US 19970005"), ("publication", "US 19997005")]
    assert {each.kind for each in records("reissue")[0].relations} == {"family"}


EARLY_2000S = """<!DOCTYPE patent-application-publication SYSTEM "pap-v15-2001-01-31.dtd" []>
<patent-application-publication><subdoc-bibliographic-information>
<document-id><doc-number>20039999006</doc-number><kind-code>A1</kind-code><document-date>20030612</document-date></document-id>
<domestic-filing-data><application-number><doc-number>10999006</doc-number></application-number><filing-date>20021104</filing-date></domestic-filing-data>
<technical-information><title-of-invention>Hose coupling</title-of-invention></technical-information>
<continuity-data>
<non-provisional-of-provisional><document-id><doc-number>60999003</doc-number><document-date>20011105</document-date><country-code>US</country-code></document-id></non-provisional-of-provisional>
<non-provisional-of-provisional><parent-child><child><document-id><doc-number>10999006</doc-number></document-id></child><parent><document-id><doc-number>60999004</doc-number><document-date>20011106</document-date></document-id></parent></parent-child></non-provisional-of-provisional>
<continuations>
<continuation-of><parent-child><child><document-id><doc-number>10999006</doc-number></document-id></child><parent><document-id><doc-number>09999007</doc-number><document-date>20000203</document-date></document-id></parent><parent-status>GRANTED</parent-status><parent-patent><document-id><doc-number>6999008</doc-number></document-id></parent-patent></parent-child></continuation-of>
<continuation-in-part-of><parent-child><child><document-id><doc-number>09999007</doc-number></document-id></child><parent><document-id><doc-number>09999009</doc-number><document-date>19980203</document-date></document-id></parent></parent-child></continuation-in-part-of>
</continuations>
<division-of><parent-child><child><document-id><doc-number>09999009</doc-number></document-id></child><parent><document-id><doc-number>08999010</doc-number><document-date>19960203</document-date></document-id></parent></parent-child></division-of>
<a-371-of-international><parent-child><child><document-id><doc-number>08999010</doc-number></document-id></child><parent><document-id><doc-number>PCT/DE95/99011</doc-number><document-date>19950203</document-date><country-code>WO</country-code></document-id></parent></parent-child></a-371-of-international>
</continuity-data>
</subdoc-bibliographic-information></patent-application-publication>"""


def test_the_chain_of_an_application_of_2001_to_2004() -> None:
    """Provisionals, continuations, the division and the international application are priorities."""
    sent = iter([EARLY_2000S.encode(), b""])
    (found,) = read_items(lambda _: next(sent))
    assert found.document, found.problem
    (own,) = read_records("uspto_bulk", found.document)
    assert [(each.kind, each.identifier.text) for each in own.relations] == [
        ("priority", "US 60999003"), ("priority", "US 60999004"), ("priority", "US 09999007"),
        ("priority", "US 09999009"), ("priority", "US 08999010"), ("priority", "PCT/DE95/99011"),
    ]  # fmt: skip
    assert [each.days.text() for each in own.dates if each.kind == "priority"] == [
        "2001-11-05", "2001-11-06", "2000-02-03", "1998-02-03", "1996-02-03", "1995-02-03",
    ]  # fmt: skip
    details = dict(own.details)
    assert details["term: earliest application relied on, filed"] == "1995-02-03"
    assert next(text for name, text in own.details if name == "chain of applications") == (
        "US 10999006: continuation of US 09999007, filed 2000-02-03, granted as US 6999008, granted"
    )


@pytest.mark.parametrize(
    "child", ["<child><document-id><doc-number>10999006</doc-number></document-id></child>", ""]
)
def test_a_national_phase_of_2001_to_2004_is_told_as_one(child: str) -> None:
    """Where the application itself entered from abroad, the international one is its own, not its chain's."""
    other = "<child><document-id><doc-number>08999010</doc-number></document-id></child><parent><document-id><doc-number>PCT"
    assert other in EARLY_2000S
    text = EARLY_2000S.replace(other, f"{child}<parent><document-id><doc-number>PCT")
    sent = iter([text.encode(), b""])
    (found,) = read_items(lambda _: next(sent))
    assert found.document
    assert found.document.international == Number("WO", "PCT/DE95/99011", "", "19950203")
    assert NATIONAL_PHASE not in [link.kind for link in found.document.chain]
    notes = {r.identifier.text: r.note for r in read_records("uspto_bulk", found.document)[0].relations}
    assert notes["PCT/DE95/99011"] == "the international application whose national phase this is"


def test_the_term_under_its_stable_names() -> None:
    """Days added, disclaimer, and the earliest application relied on; a provisional starts no term."""
    details = dict(records("grant")[0].details)
    assert details["term: days added for slow grant"] == "217"
    assert details["term: disclaimer"] == "This patent is subject to a terminal disclaimer."
    assert details["term: earliest application relied on, filed"] == "2020-03-02"
    assert dict(records("design")[0].details)["term: years from grant"] == "15"
    reissue = dict(records("reissue")[0].details)
    assert reissue["term: original patent, filed"] == "2015-02-03"
    assert reissue["term: original patent, granted"] == "2020-08-18"
    assert "term: earliest application relied on, filed" not in reissue, "a reissue relies on no parent's day"


def test_a_term_in_words_is_no_number() -> None:
    """An extension written otherwise than as days stays what it says (uspto_bulk.md: old ones may say years)."""
    changed = document("grant", **{"<us-term-extension>217<": "<us-term-extension>2 years<"})
    details = dict(read_records("uspto_bulk", changed)[0].details)
    assert "term: days added for slow grant" not in details
    assert details["term: extension as printed"] == "2 years"


def test_citations_say_by_whom() -> None:
    """Patents and DOIs as relations, other literature as text; the office's words as they stand."""
    own = records("grant")[0]
    assert [(each.identifier.text, each.note) for each in own.relations if each.kind == "cites"] == [
        ("US D99901 S", "cited by examiner"),
        ("WO 2009/999901 A1", "cited by applicant"),
        ("10.5555/flush.7", "cited by third party"),
    ]
    assert (
        dict(own.details)["cites (literature)"]
        == "Catalogue of the Flo works, 1988, p. 4. [cited by applicant]"
    )


def test_people_of_both_forms_of_the_document_type() -> None:
    """Until 2012 the inventor stood among the applicants only."""
    assert [(each.name, each.role) for each in records("registration")[0].people] == [
        ("Ada Ebb", "inventor"), ("Ada Ebb", "applicant"),
    ]  # fmt: skip
    assert [(each.name, each.role) for each in records("grant")[0].people] == [
        ("Ada Ebb", "inventor"), ("Flo Works GmbH", "applicant"),
    ]  # fmt: skip


def test_codes_and_classes() -> None:
    """CPC and IPC in normal writing; US and Locarno classes beside them, unpacked."""
    own = records("grant")[0]
    assert own.codes == (("CPC", "A01G 25/023"), ("CPC", "F16K 31/002"), ("IPC", "A01G 25/02"))
    assert ("class (US class)", "239/201.9") in own.details
    assert ("class (Locarno)", "08-03 (edition 14)") in records("design")[0].details


@pytest.mark.parametrize(
    ("packed", "written"),  # uspto_bulk.md names the first two; the others stand in its samples
    [("2502019", "250/201.9"), ("D24100", "D24/100"), ("D 1101", "D1/101"), ("426 83", "426/83"),
     ("273157 R", "273/157R"), ("229116", "229/116"), ("", ""), ("7", "7")],
)  # fmt: skip
def test_a_us_class_unpacked(packed: str, written: str) -> None:
    """Three places for the class, three for the subclass, then decimals or a letter."""
    assert unpacked(packed) == written


def test_text_keeps_what_is_raised_and_lowered() -> None:
    """H2O stays a word, 10 to the second does not become 102; instructions and pictures leave no trace."""
    assert records("grant")[0].title.endswith("H2O flush valve")
    assert records("grant")[0].abstract.endswith("above 10² degrees.")
    paragraphs = item("grant").paragraphs
    assert paragraphs[0] == ("", "BACKGROUND")
    assert paragraphs[1][1] == "Emitters clog. A pulsating membrane is known from FIG. 1 of another patent."
    assert paragraphs[3] == ("0003", "The spring is of nickel titanium. It opens at noon. It shuts at dusk.")
    root = read_root("x", b"<p>x<sup>n+1</sup> and a<sup>b</sup>c <sup>*</sup></p>")
    assert readable(root) == "xⁿ⁺¹ and a^bc ^*"


def test_claims_stand_alone_by_markup_and_by_words() -> None:
    """A claim names another by claim-ref or, where a conversion lost it, by its words."""
    found = standing(document("grant").claims)
    assert (found.independent, found.dependent, found.doubtful) == (("1",), ("2", "3"), ("4",))
    application = document("application")
    assert application.cancelled == ("1-2",)
    assert standing(application.claims).dependent == ("4",)


@pytest.mark.parametrize(
    ("text", "names", "stands"),
    [
        ("2. The valve of claim 1, wherein it is red.", ("1",), "dependent"),
        ("2. A valve according to claim 1, of brass.", ("1",), "dependent"),
        ("2. A valve as claimed in any of claims 1 to 4.", (), "dependent"),
        ("2. A process for making the valve of claim 1.", ("1",), "doubtful"),
        ("2. A vehicle comprising a valve as claimed in claim 1.", ("1",), "doubtful"),
        ("2. A valve with a spring.", (), "independent"),
        ("2. The valve wherein it is red.", ("1",), "dependent"),
        ("2. A method of claiming land.", (), "independent"),
    ],
)
def test_how_a_claim_stands(text: str, names: tuple[str, ...], stands: str) -> None:
    """Both readings are shown for a claim of another category that leans on one (uspto_bulk.md, exception b)."""
    found = standing((Claim("1", "1. A valve for a drip line, with a seat."), Claim("2", text, names)))
    assert found.independent[0] == "1"
    assert "2" in getattr(found, stands)


def test_another_number_of_claims_than_stated_is_said() -> None:
    """number-of-claims checks the reading."""
    changed = document("grant", **{"<number-of-claims>4<": "<number-of-claims>6<"})
    assert (
        dict(read_records("uspto_bulk", changed)[0].details)["claims"] == "the document states 6, 4 were read"
    )


@pytest.mark.parametrize(
    ("old", "new", "problem"),
    [
        ("<doc-number>19999001</doc-number>", "<doc-number>nineteen</doc-number>", "publication number"),
        ("<kind>B2</kind>", "", "publication number"),
        ("<date>20240611</date>", "<date>20241340</date>", "day of publication"),
        ("</claims>", "", "not whole XML"),
        ("us-bibliographic-data-grant>", "front-page>", "bibliographic data"),
        ("us-patent-grant", "sequence-notes", "not known"),
        ('encoding="UTF-8"', 'encoding="EBCDIC-US"', "not read"),
    ],
)
def test_what_can_not_be_read_says_why(old: str, new: str, problem: str) -> None:
    """The document is set aside with its place and its beginning."""
    found = item("grant", **{old: new})
    assert found.document is None
    assert problem in found.problem
    assert found.size > 1_000
    assert found.excerpt


def test_a_sequence_listing_is_left_aside_not_unreadable() -> None:
    """Documents of other roots stand in weekly files; a known one is counted as what it is."""
    sent = iter([b'<?xml version="1.0"?><!DOCTYPE sequence-cwu SYSTEM "s"><sequence-cwu id="1"/>', b""])
    (found,) = read_items(lambda _: next(sent))
    assert found.left_aside == "sequence-cwu"


def test_entities_are_characters_or_stay_as_written() -> None:
    """Names of HTML and of the old Greek set are resolved; a declared one is never expanded."""
    body = b'<!DOCTYPE p SYSTEM "p" [<!ENTITY lol "lolol"><!ENTITY t "&lol;&lol;">]><p>&ldquo;&agr;&times;&THgr;&rdquo; &t; &amp; &lt;</p>'
    assert readable(read_root("x", body)) == "“α×Θ” &t; & <"


@pytest.mark.parametrize(
    "body",
    [
        b'<!DOCTYPE p [<!ENTITY x "unending"',
        b"<!DOCTYPE p [" * 20_000,
        b"<?xml version='1.0' encoding='UTF-8'?><p>\xff\xfe</p>",
        b"<p>" * 5_000,
        b"",
        b"\x1f\x8b\x08not xml",
    ],
    ids=["open", "many", "latin", "deep", "empty", "packed"],
)
def test_hostile_documents_are_refused_at_once(body: bytes) -> None:
    """No document type is loaded, nothing expands, nothing takes time that grows faster than its length."""
    with pytest.raises(SourceChanged):
        read_root("x", body)


def test_latin_1_is_read_where_it_is_declared() -> None:
    """An encoding stated is the one used."""
    body = "<?xml version='1.0' encoding='ISO-8859-1'?><p>café</p>".encode("latin-1")
    assert readable(read_root("x", body)) == "café"


@pytest.mark.parametrize("name", ["grant", "application", "design", "plant", "reissue", "registration"])
def test_facts_come_back_from_json(name: str) -> None:
    """What the corpus keeps is all that was read."""
    whole = document(name)
    assert facts_from(json.loads(facts_json(whole))) == whole


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=5),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(["publication", "claims", "number", "title", "x"]), inner, max_size=4
        )
    ),
    max_leaves=12,
)


@given(JSON)
@settings(derandomize=True, deadline=None)
def test_other_json_is_refused(data: Any) -> None:
    """Whatever else stands in an answer is a ValueError, never a half-read document."""
    with suppress(ValueError):
        assert isinstance(facts_from(data), UsDocument)


@pytest.mark.parametrize(
    ("written", "plain"),
    [("07997973", "7997973"), ("D0701016", "D701016"), ("RE050588", "RE50588"), ("PP0012", "PP12"),
     ("10000000", "10000000"), ("2003/0076485", "20030076485"), ("7,997,973", "7997973"), ("", ""), ("B52X", "")],
)  # fmt: skip
def test_zeros_that_pad_go(written: str, plain: str) -> None:
    """Publication numbers as the files pad them (uspto_bulk.md)."""
    assert plain_number(written) == plain


@pytest.mark.parametrize(
    ("number", "text"),
    [
        (Number("US", "D14842", "S"), "US D14842 S"),
        (Number("WO", "WO 2005/080928", "A1"), "WO 2005/080928 A1"),
        (Number("WO", "WO2015/123456", "A"), "WO 2015/123456"),
        (Number("EP", "111213"), "EP 111213"),
        (Number("", "111213"), ""),
        (Number("JP", "61105664", "00"), "JP 61105664"),
    ],
)
def test_publication_numbers(number: Number, text: str) -> None:
    """Office, number, and the kind only where one is stated (uspto_bulk.md)."""
    assert publication_text(number) == text


@pytest.mark.parametrize(
    ("number", "text"),
    [
        (Number("WO", "PCT/IB2019/057948", "00"), "PCT/IB2019/057948"),
        (Number("US", "PCT/US12/45678"), "PCT/US12/45678"),
        (Number("EM", "001184956-0001"), "EM 001184956-0001"),
        (Number("US", "14643719"), "US 14643719"),
        (Number("", "14643719"), ""),
    ],
)
def test_application_numbers(number: Number, text: str) -> None:
    """An international application is one wherever the file says it was filed."""
    assert application_text(number) == text


@pytest.mark.parametrize(
    ("written", "symbol"),  # the first three stand in the samples of 2002, 1976 and 2001
    [("H03M 1300", "H03M 13/00"), ("B60R  900", "B60R 9/00"), ("G06F017/60", "G06F 17/60"),
     ("A61K 31505", "A61K 31/505"), ("A01G 25/02", "A01G 25/02"), ("X", ""), ("", "")],
)  # fmt: skip
def test_old_writings_of_a_symbol(written: str, symbol: str) -> None:
    """Four places for the subclass, three for the main group, the rest for the subgroup."""
    assert packed_ipc(written) == symbol
