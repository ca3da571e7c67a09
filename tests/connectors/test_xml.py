"""XML from outside is read without fetching, expanding or breaking."""

from __future__ import annotations

import time
from contextlib import suppress

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from connectors.errors import SourceChanged
from connectors.xml import clean_text, excerpt, parse_xml, text_of

BOMB = b"""<?xml version="1.0"?><!DOCTYPE a [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">
<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;"><!ENTITY d "&c;&c;&c;&c;&c;&c;&c;&c;">]><a x="&d;">&d;</a>"""

REFUSED = {
    "nothing": (b"  \n", "empty"),
    "torn": (b"<a><b>text", "not whole XML"),
    "two roots": (b"<a/><b/>", "not whole XML"),
    "an HTML page": (b"<!DOCTYPE html><html><body>Log in</body></html>", "HTML page"),
    "an HTML page without doctype": (b"\n<HTML><p>x", "HTML page"),
    "entities that grow": (BOMB, "document type"),
    "an entity from a file": (
        b'<!DOCTYPE a [<!ENTITY e SYSTEM "file:///etc/hostname">]><a>&e;</a>',
        "document type",
    ),
    "a DTD from the net": (
        b'<?xml version="1.0"?><!-- x --><!DOCTYPE a SYSTEM "http://127.0.0.1:9/a.dtd"><a/>',
        "document",
    ),
    "a lower-case doctype": (b"<!doctype a []><a/>", "document type"),
    "an undeclared entity": (b"<a>&unknown;</a>", "not whole XML"),
    "UTF-16": ("<a/>".encode("utf-16"), "not UTF-8"),
    "UTF-16 without mark": ("<a/>".encode("utf-16-le"), "not UTF-8"),
    "bytes that are no UTF-8": (b"<a>\xff\xfe</a>", "not whole XML"),
    "JSON": (b'{"a": 1}', "not whole XML"),
    "absurd nesting": (b"<a>" * 5_000 + b"</a>" * 5_000, "not whole XML"),
}


@pytest.mark.parametrize(("body", "said"), REFUSED.values(), ids=REFUSED)
def test_what_is_not_plain_whole_xml_is_refused(body: bytes, said: str) -> None:
    """Each body is refused with its reason, the source named, and without delay."""
    begun = time.perf_counter()
    with pytest.raises(SourceChanged, match=said) as caught:
        parse_xml("example", body)
    assert caught.value.source == "example"
    assert time.perf_counter() - begun < 1


def test_doctype_inside_text_is_only_text() -> None:
    """A title about document types does not make the page refused."""
    assert text_of(parse_xml("x", b"<a><![CDATA[<!DOCTYPE html>]]></a>")) == "<!DOCTYPE html>"


@pytest.mark.parametrize("mark", [b"\x01", b"&#x1;", b"&#x0001F;", b"&#11;", b"\x0b", b"&#0;"])
def test_control_character_does_not_cost_the_page(mark: bytes) -> None:
    """Characters that XML 1.0 forbids are dropped and the rest is read."""
    assert text_of(parse_xml("x", b"<a>be" + mark + b"fore</a>")) == "before"


@pytest.mark.parametrize("mark", [b"&#9;", b"&#xA;", b"&#13;", b"&#x20;"])
def test_allowed_blanks_stay_blanks(mark: bytes) -> None:
    """Tab, line feed, return and blank are no forbidden characters."""
    assert text_of(parse_xml("x", b"<a>be" + mark + b"fore</a>")) == "be fore"


def test_comments_and_instructions_are_no_text() -> None:
    """Text around a comment and an instruction reads on."""
    assert text_of(parse_xml("x", b"<a>one<!-- no --><b> two</b><?no no?> three</a>")) == "one two three"


def test_document_of_another_declared_encoding_is_read_as_utf_8() -> None:
    """The declaration can't smuggle a second reading of the bytes."""
    body = b"<?xml version='1.0' encoding='UTF-7'?><a>+ADwAIQBEOCTYPE x+AD4-</a>"
    assert text_of(parse_xml("x", body)) == "+ADwAIQBEOCTYPE x+AD4-"


def test_direction_overrides_are_removed() -> None:
    """A text can't be made to read backwards."""
    assert clean_text("a\u202e b\u2066c\u0007\u00a0 d") == "a bc d"


def test_excerpt_is_short() -> None:
    """A quarantined item is quoted with at most 500 characters."""
    assert len(excerpt(parse_xml("x", b"<a>" + b"y" * 9_000 + b"</a>"))) == 500


@settings(derandomize=True, max_examples=200, deadline=None)
@given(st.binary(max_size=60))
def test_any_bytes_are_read_or_refused(body: bytes) -> None:
    """Nothing but a tree or SourceChanged comes out of any body, and no body hides the root it stands in."""
    with suppress(SourceChanged):
        assert parse_xml("x", body).tag
    with suppress(SourceChanged):
        assert parse_xml("x", b"<a>" + body + b"</a>").tag == "a"
