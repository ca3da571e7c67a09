"""matter.toml: a new one loads after filling in; a bad one is named by line, key and nearest spelling."""

from __future__ import annotations

from pathlib import Path

import pytest

from connectors.days import Days
from connectors.registry import BY_NAME
from pipeline.errors import BadMatter, NoMatter
from pipeline.matter import load_matter, new_matter
from queries.concept import Term
from queries.expression import Code

GOOD = """
contact = "ada@example.org"
exclude = ["coffee"]
offices = ["us", "UK"]
countries_of_sale = ["DE"]
[invention]
title = "Self-flushing emitter"
summary = \"\"\"
An emitter that
flushes itself.
\"\"\"
[invention.elements]
A = "an emitter"
[[concept]]
name = "emitter"
terms = ["drip emitter", { text = "dripper", plural = false }]
[codes]
cpc = ["A01G25/02", "a01g 25"]
[[date]]
kind = "own disclosure"
day = "2026-03"
[[known]]
number = "US 2015/0123456 A1"
[source.arxiv]
on = false
"""


def written(folder: Path, text: str) -> Path:
    """Write the text as the folder's matter.toml."""
    (folder / "matter.toml").write_text(text, encoding="utf-8")
    return folder


def test_a_new_matter_loads(tmp_path: Path) -> None:
    """What `antedate new` writes is a matter that loads as it stands."""
    new_matter(tmp_path / "m")
    matter = load_matter(tmp_path / "m")
    assert list(matter.elements) == ["A", "B"]
    off = {name for name, setting in matter.sources.items() if not setting.on}
    assert off == {name for name, connector in BY_NAME.items() if connector.SOURCE.off_because}


def test_a_new_matter_never_replaces_one(tmp_path: Path) -> None:
    """A folder that has a matter.toml is left alone."""
    written(tmp_path, GOOD)
    with pytest.raises(BadMatter, match="left alone"):
        new_matter(tmp_path)
    assert (tmp_path / "matter.toml").read_text(encoding="utf-8") == GOOD


def test_a_good_matter_is_read_whole(tmp_path: Path) -> None:
    """Every table comes out, codes in one writing, partial dates partial."""
    matter = load_matter(written(tmp_path, GOOD))
    assert matter.summary == "An emitter that\nflushes itself."
    assert matter.query_set.concepts[0].terms == (Term("drip emitter"), Term("dripper", plural=False))
    assert matter.query_set.codes == (Code("cpc", "A01G 25/02"), Code("cpc", "A01G 25/00"))
    assert matter.query_set.exclusions == (Term("coffee"),)
    assert matter.dates[0].days == Days.of_month(2026, 3)
    assert matter.offices == ("US", "GB")
    assert not matter.sources["arxiv"].on
    assert matter.sources["crossref"].contact == "ada@example.org"


BAD = [
    ("sumary", GOOD.replace("summary =", "sumary ="), r"line 8: invention\.sumary is not known.*Did you mean summary"),
    ("unknown top key", "ofices = ['US']\n" + GOOD, r"line 1: ofices is not known.*Did you mean offices"),
    ("unknown source", GOOD + "[source.arxv]\non = true\n", r"line 26: source\.arxv is not known.*Did you mean arxiv"),
    ("empty concept", GOOD.replace('["drip emitter", { text = "dripper", plural = false }]', "[]"),
     r"line 16: concept\.1\.terms is empty: concept 'emitter' needs at least one term"),
    ("term of marks", GOOD.replace('"drip emitter"', '"--"'), r"line 16: .*no letter or digit"),
    ("wrong flag", GOOD.replace("plural = false", 'plural = "no"'), r"line 16: .*true or false"),
    ("bad symbol", GOOD.replace("A01G25/02", "A1G/2"), r"line 18: codes\.cpc holds 'A1G/2'"),
    ("bad day", GOOD.replace('"2026-03"', '"2026-02-30"'), r"line 21: date\.1\.day is '2026-02-30'"),
    ("bad kind", GOOD.replace("own disclosure", "own disclosures"), r"line 20: .*Did you mean own disclosure"),
    ("no summary", GOOD.replace("An emitter that\nflushes itself.\n", ""), r"line 8: invention\.summary is empty"),
    ("not TOML", GOOD.replace("[codes]", "[codes"), r"\(at line 17"),
    ("http address", GOOD + '[source.openalex]\nbase_url = "file:///etc/passwd"\n', r"line 27: .*begins with https"),
    ("password in address", GOOD + '[source.openalex]\nbase_url = "https://a:b@c.org"\n', r"line 27: .*environment"),
    ("bad office", GOOD.replace('"us"', '"usa"'), r"line 4: offices holds 'usa'"),
    ("no such office", GOOD.replace('"us"', '"EN"'), r"line 4: offices holds 'EN', which is no patent office's code"),
    ("bad country", GOOD.replace('countries_of_sale = ["DE"]', "countries_of_sale = ['P']"), r"line 5: countries_of_sale holds 'P'"),
    ("concept not a list", GOOD.replace("[[concept]]", "[concept]"), r"must be written as \[\[concept\]\]"),
    ("same name twice", GOOD + '[[concept]]\nname = "Emitter"\nterms = ["x"]\n', r"line 27: .*used twice"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "says"), [row[1:] for row in BAD], ids=[row[0] for row in BAD])
def test_a_bad_matter_is_one_clear_error(text: str, says: str, tmp_path: Path) -> None:
    """The error names the line, the key, what is wrong and how to write it."""
    with pytest.raises(BadMatter, match=says):
        load_matter(written(tmp_path, text))


def test_a_territory_is_a_country_of_sale(tmp_path: Path) -> None:
    """Goods are sold in places that no patent office is named after; trade codes become ST.3's."""
    matter = load_matter(
        written(tmp_path, GOOD.replace('countries_of_sale = ["DE"]', 'countries_of_sale = ["pr", "UK"]'))
    )
    assert matter.countries_of_sale == ("PR", "GB")


def test_a_missing_matter_says_how_to_make_one(tmp_path: Path) -> None:
    """No file: the error names the command that writes one."""
    with pytest.raises(NoMatter, match="antedate new"):
        load_matter(tmp_path)


def test_bytes_that_are_no_text(tmp_path: Path) -> None:
    """A file in another encoding is refused with the place."""
    (tmp_path / "matter.toml").write_bytes(b'title = "\xff\xfe"')
    with pytest.raises(BadMatter, match="not UTF-8 text"):
        load_matter(tmp_path)
