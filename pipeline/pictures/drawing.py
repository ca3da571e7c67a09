"""Pictures drawn: as SVG and PNG on this machine, and as what the browser's script draws.

The plotting library is Vega-Lite, run inside vl-convert, which carries it whole: nothing is
fetched to draw, and the script for the browser comes out of the same package.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import lru_cache
from importlib.resources import files
from typing import Any

from pipeline.pictures.picture import Look, Picture, Spec
from pipeline.plain_text import safe, without_marks

SCHEMA = "https://vega.github.io/schema/vega-lite/v6.json"  # A name; nothing asks for it.
# The widths are measured here but drawn in the browser: these letters are equally wide everywhere.
FONT = "Liberation Sans, Arial, Helvetica, sans-serif"
PNG_SCALE = 2.0


def specification(picture: Picture, look: Look, heading: str = "") -> Spec:
    """Return the picture as one Vega-Lite specification; data and colours stand in it.

    heading: written over the drawing on paper of its own colour, for a file that leaves the
    page; without it the drawing has no background. Raises ValueError where nothing is drawn.
    """
    if picture.draw is None:
        raise ValueError(f"{picture.name}: there is nothing to draw")
    drawn = picture.draw(look)
    whole: Spec = {
        "$schema": SCHEMA,
        **({"title": {"text": safe(heading, 120), "anchor": "start"}} if heading else {}),
        **drawn,
        "background": look.colours.paper if heading else None,
        "padding": 12 if heading else 2,
        "config": _config(look),
    }
    return {name: _cleaned(part) for name, part in whole.items()}


def _cleaned(part: Any) -> Any:
    """Return the part without control characters and the like in any of its texts.

    The library ends the whole process on a text that XML can't hold, so this is done here
    once more, whoever made the text.
    """
    if isinstance(part, str):
        return without_marks(part)
    if isinstance(part, Mapping):
        return {name: _cleaned(value) for name, value in part.items()}
    return [_cleaned(value) for value in part] if isinstance(part, list | tuple) else part


def svg(picture: Picture, look: Look, heading: str = "") -> str:
    """Return the picture as an SVG document, without scripts or styles of its own."""
    return _svg(json.dumps(specification(picture, look, heading)))


@lru_cache(maxsize=32)
def _svg(spec: str) -> str:
    """Draw; the largest picture takes half a second, and a page asks for the same one again and again."""
    import vl_convert

    drawn: str = vl_convert.vegalite_to_svg(spec, allowed_base_urls=[])
    return drawn


def png(picture: Picture, look: Look, heading: str) -> bytes:
    """Return the picture as a PNG at twice the size of the SVG."""
    import vl_convert

    spec = specification(picture, look, heading)
    drawn: bytes = vl_convert.vegalite_to_png(spec, scale=PNG_SCALE, allowed_base_urls=[])
    return drawn


@lru_cache(maxsize=1)
def script() -> str:
    """Return the script that draws a page's picture in the browser: the library and our few lines.

    Made once in a process, in about 1.5 s; 0.9 MB.
    """
    import vl_convert

    ours = files("pipeline.pictures").joinpath("live.js").read_text(encoding="utf-8")
    bundle: str = vl_convert.javascript_bundle(ours)
    return bundle


def _config(look: Look) -> Spec:
    colours = look.colours
    axis = {
        "labelColor": colours.ink,
        "titleColor": colours.quiet,
        "domainColor": colours.quiet,
        "tickColor": colours.quiet,
        "gridColor": colours.line,
        "labelFontSize": 11,
        "titleFontSize": 12,
        "titleFontWeight": "normal",
    }
    return {
        "font": FONT,
        "aria": False,  # The page names the picture once, and its tables are what is read out.
        "view": {"stroke": None},
        "axis": axis,
        "legend": {
            "labelColor": colours.ink,
            "titleColor": colours.quiet,
            "labelFontSize": 12,
            "symbolSize": 90,
        },
        "title": {"color": colours.ink, "fontSize": 15, "fontWeight": 600, "offset": 12},
        "rule": {"color": colours.quiet},
        "text": {"color": colours.ink, "fontSize": 11},
    }
