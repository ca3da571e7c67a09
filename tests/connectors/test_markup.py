"""Markup goes, its text stays, and nothing that is no markup goes with it."""

from __future__ import annotations

import time
import unicodedata

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from connectors.markup import clean_text, plain_text

TEXTS = {
    # The tags of JATS (jats.nlm.nih.gov, articles and abstracts) and of HTML.
    "subscripts stay as text": ("H<sub>2</sub>O at 10<sup>-3</sup> M", "H2O at 10-3 M"),
    "emphasis": ("in\n   <i>Streptococcus</i>\n  that", "in Streptococcus that"),
    "small capitals": ("The <scp>AI</scp>-driven pump", "The AI-driven pump"),
    "a heading Abstract": (
        "<jats:title>Abstract</jats:title>\n<jats:p>One.</jats:p><jats:p>Two</jats:p>",
        "One. Two",
    ),
    "a heading ABSTRACT in a section": ("<jats:sec><jats:title>ABSTRACT</jats:title>x</jats:sec>", "x"),
    "another heading stays": ("<jats:title>Aim</jats:title><jats:p>To warm.</jats:p>", "Aim To warm."),
    "an empty heading": ("<jats:sec>\n<jats:title />\n<jats:p>Warm</jats:p></jats:sec>", "Warm"),
    "list items part words": ("<ul><li>one</li><li>two</li></ul>", "one two"),
    "line breaks part words": ("a<br>b<br/>c", "a b c"),
    "attributes": ("<a href=\"http://127.0.0.1/?a=1&b=2\" class='x'>link</a>", "link"),
    "an unclosed tag": ("<b>warm <i>line", "warm line"),
    # MathML 3 (w3.org/TR/MathML3), with and without prefix.
    "a formula": (
        '<mml:math xmlns:mml="http://www.w3.org/1998/Math/MathML"><mml:msub><mml:mi>E</mml:mi>'
        "<mml:mn>0</mml:mn></mml:msub></mml:math> level",
        "E0 level",
    ),
    "a formula written twice": (
        "<alternatives><tex-math>$E_0$</tex-math><math><mi>E</mi></math></alternatives>",
        "E",
    ),
    "a formula in TeX alone": ("at <jats:tex-math>$E_0$</jats:tex-math>", "at $E_0$"),
    # Entities (HTML 5, section 13.5), with their semicolons.
    "entities": ("Prince &amp;c &#233; &#xe9; &Delta;T", "Prince &c é é ΔT"),
    "entities escaped twice": ("sap &amp;amp; soil", "sap & soil"),
    "tags escaped": ("&lt;i&gt;C. elegans&lt;/i&gt; ageing", "C. elegans ageing"),
    "an ampersand that is none": ("AT&T R&D x&param=1", "AT&T R&D x&param=1"),
    # What is no markup.
    "less than": ("p<0.05 where x < y > z", "p<0.05 where x < y > z"),
    "less than, before a tag's name": ("if a<b and c>d", "if a<b and c>d"),
    "a tag that is the subject": ("the &lt;b&gt; element", "the <b> element"),
    "a script is shown, not run": ("<script>alert(1)</script>", "<script>alert(1)</script>"),
    "a character section": ("<![CDATA[x < y]]>", "x < y"),
    "a comment": ("a<!-- <b>hidden</b> -->b", "a b"),
    # Blanks and what disguises text (Unicode Bidirectional Algorithm, UAX 9).
    "no-break space": ("drip\u00a0\u00a0line\u2003x", "drip line x"),
    "control characters": ("a\x00b\x07c\td", "abc d"),
    "an override": ("safe\u202etxt.exe\u202c", "safetxt.exe"),
    "half a surrogate pair": ("a\ud800b", "ab"),
    "other scripts": ("滴灌 <b>الري</b> Бизнес", "滴灌 الري Бизнес"),
    "joiners of Persian": ("می\u200cشود", "می\u200cشود"),
    "nothing": ("", ""),
}


@pytest.mark.parametrize(("markup", "text"), TEXTS.values(), ids=TEXTS)
def test_markup_becomes_its_text(markup: str, text: str) -> None:
    """Each kind of markup gives the text a reader would see."""
    assert plain_text(markup) == text


@given(st.text())
@settings(derandomize=True, max_examples=300)
def test_cleaned_text_is_one_showable_line(text: str) -> None:
    """Whatever comes in, no control, no override, no surrogate, no double blank comes out."""
    cleaned = clean_text(text)
    assert cleaned == " ".join(cleaned.split()) == clean_text(cleaned)
    assert not {unicodedata.category(each) for each in cleaned} & {"Cc", "Cs"}
    cleaned.encode()


@given(st.text(alphabet="ab <>/&;ip\"'=-!?[]"))
@settings(derandomize=True, max_examples=500)
def test_no_text_breaks_the_reader(text: str) -> None:
    """Broken markup of any kind gives text, and letters outside tags are kept."""
    plain_text(text)
    if "<" not in text and "&" not in text:
        assert plain_text(text) == clean_text(text)


@pytest.mark.parametrize(
    "piece", ["<i>", "<!--", "<?", "<![CDATA[", '<i a="', "&amp;", "<", "<p/>", "<!DOCTYPE"]
)
def test_time_grows_with_length_only(piece: str) -> None:
    """Thirty thousand openings that never close are read in seconds, not hours."""
    begin = time.perf_counter()
    plain_text(piece * 30_000)
    assert time.perf_counter() - begin < 10
