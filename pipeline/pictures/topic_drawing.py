"""The topic map as a drawing: a mark a reference, shaped and coloured by topic, and the topics' words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from pipeline.pictures.layout import Plane, View, spread, view_of
from pipeline.pictures.picture import Look, Spec, label, link
from pipeline.pictures.topic_field import NO_TOPIC, Map

SHAPES = ("circle", "square", "triangle-up", "diamond", "triangle-down", "cross")
HEIGHT = 520
# Pixels that a label takes: number and two words, or the number alone.
WIDE_LABEL, NARROW_LABEL = (170, 16), (22, 16)
INVENTION = "★ the invention"


def draw(field: Map, plane: Plane, look: Look) -> Spec:
    """Return the drawing as a Vega-Lite specification."""
    view = view_of(plane.points, look.width - 10, look.width if look.narrow else HEIGHT)
    points = [
        {
            "across": float(across),
            "down": float(down),
            "Topic": _name(point.topic, field),
            "kind": str(point.topic or NO_TOPIC),
            "Title": f"#{point.place} {label(point.title)}",
            **link(point.reference_id, look),
        }
        for point, (across, down) in zip(field.points, plane.points, strict=False)
    ]
    star = (
        []
        if field.invention is None
        else [_text(plane.points[-1, 0], plane.points[-1, 1], INVENTION, INVENTION)]
    )
    texts = [*_labels(points, field, view, look, star), *star]
    layers = [_point_layer(points, field, view, look), _text_layer(texts, field, view, look)]
    return {"width": view.width, "height": view.height, "layer": layers}


def _name(topic: int, field: Map) -> str:
    return f"{topic} {label(field.topics[topic][0])}" if topic in field.topics else NO_TOPIC


def _text(across: float, down: float, kind: str, text: str) -> dict[str, Any]:
    return {"across": float(across), "down": float(down), "kind": kind, "label": text}


def _axes(view: View) -> dict[str, Any]:
    axes = {}
    for channel, name, reach in (("x", "across", view.across), ("y", "down", view.down)):
        scale = {"domain": list(reach), "nice": False, "zero": False}
        axes[channel] = {"field": name, "type": "quantitative", "axis": None, "scale": scale}
    return axes


def _by_kind(field: Map, ranges: Sequence[str], last: Sequence[str]) -> Spec:
    """Return an encoding by topic: the range over and over, then that of no topic and of the invention."""
    domain = [*map(str, field.topics), NO_TOPIC, INVENTION]
    each = [ranges[n % len(ranges)] for n in range(len(field.topics))]
    scale = {"domain": domain, "range": [*each, *last]}
    return {"field": "kind", "type": "nominal", "scale": scale, "legend": None}


def _paint(field: Map, look: Look) -> Spec:
    return _by_kind(field, look.colours.topics, (look.colours.quiet, look.colours.accent))


def _point_layer(points: Sequence[dict[str, Any]], field: Map, view: View, look: Look) -> Spec:
    encoding: dict[str, Any] = {
        **_axes(view),
        "color": _paint(field, look),
        "shape": _by_kind(field, SHAPES, ("stroke", "circle")),
        "tooltip": [{"field": name, "type": "nominal"} for name in ("Title", "Topic")],
    }
    mark = {"type": "point", "size": 40 if look.narrow else 55, "strokeWidth": 1.5}
    layer: Spec = {"data": {"values": points}, "mark": mark, "encoding": encoding}
    if look.live:
        encoding["href"] = {"field": "href", "type": "nominal"}
        select = {"type": "interval", "zoom": "wheel![event.shiftKey]"}
        layer["params"] = [{"name": "span", "select": select, "bind": "scales"}]
    return layer


def _labels(
    points: Sequence[dict[str, Any]], field: Map, view: View, look: Look, star: Sequence[dict[str, Any]]
) -> list[dict[str, Any]]:
    """Return each drawn topic's label at the middle of its points, moved where two would overlap."""
    middles = []
    for number, (terms, _) in field.topics.items():
        own = [point for point in points if point["kind"] == str(number)]
        if own:
            across = sum(point["across"] for point in own) / len(own)
            down = sum(point["down"] for point in own) / len(own)
            words = "" if look.narrow else " " + label(", ".join(terms.split(", ")[:2]), 30)
            middles.append(_text(across, down, str(number), f"{number}{words}"))
    places = spread(
        [_pixels(text, view) for text in middles],
        *(NARROW_LABEL if look.narrow else WIDE_LABEL),
        [_pixels(text, view) for text in star],
    )
    return [
        text | {"across": across / view.scale, "down": -down / view.scale}
        for text, (across, down) in zip(middles, places, strict=True)
    ]


def _pixels(text: dict[str, Any], view: View) -> tuple[float, float]:
    return text["across"] * view.scale, -text["down"] * view.scale


def _text_layer(texts: Sequence[dict[str, Any]], field: Map, view: View, look: Look) -> Spec:
    """Return the texts on a rim of paper, so that marks below do not cross the letters."""
    encoding = {**_axes(view), "text": {"field": "label", "type": "nominal"}}
    mark = {"type": "text", "fontSize": 12, "fontWeight": 600}
    rim = {**mark, "stroke": look.colours.paper, "strokeWidth": 3, "strokeJoin": "round", "opacity": 0.9}
    painted = {"mark": mark, "encoding": {**encoding, "color": _paint(field, look)}}
    return {"data": {"values": texts}, "layer": [{"mark": rim, "encoding": encoding}, painted]}
