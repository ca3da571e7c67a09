"""Every drawing is whole XML and the same twice; outside text comes out as letters; colours can be told apart."""

from __future__ import annotations

import io
import re
import unicodedata
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from pathlib import Path

import pytest
import vl_convert
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree
from PIL import Image

from connectors.days import Days
from pipeline.critical_days import cutoffs
from pipeline.decisions import Decisions
from pipeline.matter import load_matter
from pipeline.pictures import matrix, overlaps, timeline, topic_map
from pipeline.pictures.drawing import png, specification, svg
from pipeline.pictures.field import Pictured
from pipeline.pictures.picture import DARK, LIGHT, Colours, Look, Picture, label
from pipeline.pictures.timeline_drawing import draw
from pipeline.store import open_store

LOOKS = [Look(dark, narrow) for dark in (False, True) for narrow in (False, True)]
NAMES = ("timeline", "topics", "elements", "sources")


@pytest.fixture(scope="module")
def pictures(drawn_up: Path) -> dict[str, Picture]:
    """Give the four pictures of the small field."""
    matter, standing = load_matter(drawn_up), Decisions(drawn_up).standing()
    with open_store(drawn_up, read_only=True) as con:
        lines = cutoffs(matter, date(2026, 11, 25))
        found = (
            timeline.timeline_picture(timeline.read_timeline(con, standing, lines)),
            topic_map.topic_picture(topic_map.read_map(con, "none")),
            matrix.matrix_picture(matrix.read_matrix(con, standing, matter.elements, 0)),
            overlaps.overlap_picture(overlaps.read_holdings(con)),
        )
    return {picture.name: picture for picture in found}


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("look", LOOKS, ids=str)
def test_a_drawing_is_whole_plain_svg(pictures: dict[str, Picture], name: str, look: Look) -> None:
    """It parses as XML, runs no script, styles nothing, loads nothing, and is the same twice."""
    drawn = svg(pictures[name], look)
    tree = etree.fromstring(drawn.encode())
    again = vl_convert.vegalite_to_svg(specification(pictures[name], look), allowed_base_urls=[])
    assert again == drawn
    names = {etree.QName(node).localname for node in tree.iter(etree.Element)}
    assert names <= {"svg", "g", "path", "text", "line", "rect", "defs", "clipPath"}
    attributes = {name for node in tree.iter(etree.Element) for name in node.attrib}
    assert not {name for name in attributes if "href" in name or name == "style" or name.startswith("on")}
    assert "NaN" not in drawn
    assert float(tree.get("width")) <= (390 if look.narrow else 1_250)


@pytest.mark.parametrize("name", NAMES)
def test_hostile_titles_come_out_as_bounded_letters(pictures: dict[str, Picture], name: str) -> None:
    """Markup is text, direction marks and control characters are gone, 10,000 characters are cut."""
    drawn = svg(pictures[name], Look(), "\u202eHead <b>\x00ing" + "x" * 5_000)
    texts = [node.text or "" for node in etree.fromstring(drawn.encode()).iter("{*}text")]
    assert not set("".join(texts)) & set("\u202e\x00\x1b")
    assert max(map(len, texts)) <= 130
    assert any("Head <b>ing" in text for text in texts)
    cells = [cell for table in pictures[name].tables for row in table.rows for cell in row.cells]
    assert max(map(len, cells)) <= 210
    assert not set("".join(cells)) & set("\u202e\x00\x1b")


def test_a_title_with_markup_is_in_the_drawing_as_it_reads(pictures: dict[str, Picture]) -> None:
    """The script of the hostile title is letters of a label."""
    tree = etree.fromstring(svg(pictures["elements"], Look()).encode())
    assert any("<script>alert(1)</script>" in (node.text or "") for node in tree.iter("{*}text"))


@pytest.mark.parametrize("name", NAMES)
def test_a_saved_png_is_a_picture_with_paper(pictures: dict[str, Picture], name: str) -> None:
    """Another library reads it; its corner is paper, not transparent; it is not blank."""
    image = Image.open(io.BytesIO(png(pictures[name], Look(), "Heading"))).convert("RGBA")
    assert image.width > 600
    assert image.getpixel((1, 1)) == (0xFB, 0xFA, 0xF7, 255)
    assert len(image.getcolors(1_000_000)) > 10


def test_drawings_made_at_once_are_those_made_one_by_one(pictures: dict[str, Picture]) -> None:
    """A page asks for several together, each in a thread of its own."""
    asked = [specification(pictures[name], look) for name in NAMES for look in LOOKS]
    alone = [vl_convert.vegalite_to_svg(spec) for spec in asked]
    with ThreadPoolExecutor(8) as pool:
        assert list(pool.map(vl_convert.vegalite_to_svg, asked)) == alone


@pytest.mark.parametrize("name", NAMES)
def test_only_the_live_drawing_leads_anywhere(pictures: dict[str, Picture], name: str) -> None:
    """A still or saved drawing holds no address; the live one leads to the reference's page only."""
    still, live = (str(specification(pictures[name], Look(live=live))) for live in (False, True))
    assert "/reference/" not in still
    assert set(re.findall(r"'href': '(/reference/)", live)) == (
        {"/reference/"} if name != "sources" else set()
    )
    assert "http" not in still.replace("https://vega.github.io/schema/vega-lite/v6.json", "")


@pytest.mark.parametrize(
    "public",
    [
        Days.of_day(date(2020, 1, 5)),
        Days.of_year(2020),
        Days(None, date(2020, 1, 5)),
        Days(date(2020, 1, 5), None),
        Days.of_year(1000),
        Days.of_year(9999),
    ],
    ids=str,
)
def test_one_reference_alone_is_drawn(public: Days) -> None:
    """Whatever its date, and with no cutoff, there is a mark or a bar and no number that is none."""
    one = Pictured("a", 1, "t", 0.5, public, "not judged")
    drawn = svg(Picture("t", "t", (), (), lambda look: draw([one], [], look)), Look())
    assert "NaN" not in drawn
    assert drawn.count('opacity="0.4"') == (0 if public.exact else 1)


@given(st.text(max_size=40) | st.sampled_from(["\x00", "\ud800", "\ufffe", "\U0001ffff", "\x85\x0b"]))
@settings(max_examples=60, deadline=None)
def test_no_text_ends_the_program(text: str) -> None:
    """The library aborts the process on what XML can't hold; nothing of that reaches it, from any place."""
    values = {"values": [{"text": text}]}
    encoding = {"y": {"field": "text", "type": "nominal"}, "text": {"field": "text", "type": "nominal"}}
    picture = Picture("t", "t", (), (), lambda _: {"data": values, "mark": "text", "encoding": encoding})
    spec = specification(picture, Look(), f"of {text}")
    shown = [spec["title"]["text"], spec["data"]["values"][0]["text"]]
    assert not [
        char for char in "".join(shown) if unicodedata.category(char)[0] == "C" and char not in "\n\t\r"
    ]
    etree.fromstring(svg(picture, Look(), f"of {text}").encode())
    assert png(picture, Look(), f"of {text}").startswith(b"\x89PNG")


def test_nothing_to_draw_is_refused() -> None:
    """A picture without a drawing is no empty file."""
    with pytest.raises(ValueError, match="nothing to draw"):
        svg(Picture("t", "t", ("why",)), Look())


@pytest.mark.parametrize(
    ("text", "most", "shown"),
    [
        ("abc", 3, "abc"),
        ("abcd", 3, "ab…"),
        ("蝶番の軸", 8, "蝶番の軸"),  # UAX 11: wide letters take two places
        ("蝶番の軸受", 8, "蝶番の…"),
        ("", 8, "(no title stated)"),
        ("\u202e\n", 20, "(no title stated)"),
    ],
)
def test_labels_are_cut_by_width(text: str, most: int, shown: str) -> None:
    """Letters of East Asia count twice; nothing readable has words of its own."""
    assert label(text, most) == shown


def contrast(one: str, other: str) -> float:
    """Return the contrast of two colours (WCAG 2.2, definition of contrast ratio)."""

    def luminance(colour: str) -> float:
        parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
        red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("colours", [LIGHT, DARK], ids=["light", "dark"])
def test_letters_and_marks_stand_out(colours: Colours) -> None:
    """Letters 4.5:1 (WCAG 1.4.3) on paper and on every shade of a cell; marks 3:1 (1.4.11)."""
    letters = (colours.ink, colours.quiet, colours.accent, *colours.topics)
    assert min(contrast(letter, colours.paper) for letter in letters) >= 4.5
    assert min(contrast(colours.ink, shade) for shade in colours.heat) >= 4.5
    assert min(contrast(mark, colours.paper) for mark in (*colours.states, *colours.topics)) >= 3
    assert len(set(colours.states)) == 4


def test_the_colours_are_the_pages_own() -> None:
    """Paper and ink of both looks stand in the style sheet."""
    css = (Path(__file__).parents[3] / "pipeline/review/static/review.css").read_text(encoding="utf-8")
    for colours in (LIGHT, DARK):
        assert f"--paper: {colours.paper}" in css
        assert f"--ink: {colours.ink}" in css
