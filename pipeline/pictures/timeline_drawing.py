"""The time line as a drawing: a mark where a reference is provably public, a bar where it may be."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from typing import Any

from pipeline.cited_reference import days_text
from pipeline.pictures.cutoff_lines import Line
from pipeline.pictures.field import STATES, Pictured
from pipeline.pictures.picture import Look, Spec, label, link

# One for each of STATES.
SHAPES = ("diamond", "square", "cross", "circle")
LABEL_HEIGHT = 14


def draw(dated: Sequence[Pictured], lines: Sequence[Line], look: Look) -> Spec:
    """Return the drawing as a Vega-Lite specification."""
    first, last = _reach(dated, lines)
    values = [_datum(one, first, last, look) for one in dated]
    height = 320 if look.narrow else 380
    y = _y([height, LABEL_HEIGHT * len(lines) + 10])
    layers = [
        *_line_layers(lines, look, (first, last), height),
        *_bar_layers(values, y),
        _mark_layer([value for value in values if "at" in value], y, look),
    ]
    layers = [layer for layer in layers if layer["data"]["values"]]
    axis = {"title": None, "tickCount": 4 if look.narrow else 10, "grid": False, "labelOverlap": True}
    layers[-1]["encoding"]["x"]["axis"] = axis
    if look.live:
        layers[-1]["params"] = [_moved()]
    return {"width": look.width - 60, "height": height, "layer": layers}


def _reach(dated: Iterable[Pictured], lines: Iterable[Line]) -> tuple[date, date]:
    """Return the first and last day of the axis, with room on both sides."""
    ends = [end for one in dated if one.public for end in (one.public.first, one.public.last) if end]
    ends += [day for line in lines for day in line.days]
    first, last = min(ends), max(ends)
    room = max((last - first) * 0.03, timedelta(days=30))
    return max(first, date.min + room) - room, min(last, date.max - room) + room


def _ms(day: date) -> int:
    """Return the day as the drawing counts it: milliseconds since 1970."""
    return (day - date(1970, 1, 1)).days * 86_400_000


def _datum(one: Pictured, first: date, last: date, look: Look) -> dict[str, Any]:
    assert one.public is not None  # noqa: S101 - only dated references are drawn
    public = one.public
    datum: dict[str, Any] = {
        "from": _ms(public.first or first),
        "to": _ms(public.last or last),
        "close": round(one.score, 4),
        "Judged": one.state,
        "Title": f"#{one.place} {label(one.title)}",
        "Public": days_text(public),
        "open": public.first is None or public.last is None,
        **link(one.reference_id, look),
    }
    if public.last:  # Otherwise no day is known by which it was public, so no mark stands anywhere.
        datum["at"] = _ms(public.last)
    return datum


def _y(reach: list[int]) -> dict[str, Any]:
    """Return the axis of closeness, on those pixels: above it stand the words of the cutoff lines."""
    return {
        "field": "close",
        "type": "quantitative",
        "scale": {"zero": True, "nice": True, "range": reach},
        "axis": {"title": "closeness to the invention", "format": ".1f", "tickCount": 6},
    }


def _x(field: str) -> dict[str, Any]:
    # The reach follows from the data: one written out would clash with moving and zooming.
    return {"field": field, "type": "temporal", "scale": {"type": "utc", "nice": False, "padding": 24}}


def _bar_layers(values: list[dict[str, Any]], y: dict[str, Any]) -> list[Spec]:
    layers: list[Spec] = []
    for opened in (False, True):
        line: Spec = {"strokeDash": [5, 4], "strokeWidth": 2} if opened else {"strokeWidth": 3}
        mark = {"type": "rule", "opacity": 0.4, **line}
        bars = [value for value in values if value["open"] is opened and value["from"] < value["to"]]
        encoding = {"x": _x("from"), "x2": {"field": "to"}, "y": y, "tooltip": _TOOLTIP}
        layers.append({"data": {"values": bars}, "mark": mark, "encoding": encoding})
    return layers


_TOOLTIP = [{"field": name, "type": "nominal"} for name in ("Title", "Public", "Judged")]


def _mark_layer(values: list[dict[str, Any]], y: dict[str, Any], look: Look) -> Spec:
    legend = {"title": None, "orient": "bottom", "columns": 2 if look.narrow else 4}
    encoding: Spec = {
        "x": _x("at"),
        "y": y,
        "shape": {
            "field": "Judged",
            "type": "nominal",
            "scale": {"domain": STATES, "range": SHAPES},
            "legend": legend,
        },
        "color": {
            "field": "Judged",
            "type": "nominal",
            "scale": {"domain": STATES, "range": look.colours.states},
            "legend": legend,
        },
        "tooltip": _TOOLTIP,
    }
    if look.live:
        encoding["href"] = {"field": "href", "type": "nominal"}
    # Larger where judged relevant: what the reader looks for first.
    encoding["size"] = {"condition": {"test": "datum.Judged === 'relevant'", "value": 150}, "value": 60}
    mark = {"type": "point", "strokeWidth": 1.8}
    return {"data": {"values": values}, "mark": mark, "encoding": encoding}


def _moved() -> Spec:
    """Return what lets the reader move and zoom along the days, the wheel only with Shift held."""
    select = {"type": "interval", "encodings": ["x"], "zoom": "wheel![event.shiftKey]"}
    return {"name": "span", "select": select, "bind": "scales"}


def _line_layers(lines: Sequence[Line], look: Look, reach: tuple[date, date], height: int) -> list[Spec]:
    """Return bands and lines of the cutoffs, each with its words in a row of its own above the field."""
    middle = _ms(reach[0]) + (_ms(reach[1]) - _ms(reach[0])) / 2
    texts: list[dict[str, Any]] = []
    for row, line in enumerate(sorted(lines, key=lambda line: _row(line, middle))):
        day = _ms(line.days[-1])
        words = {"label": _line_label(line, look), "right": day > middle, "down": LABEL_HEIGHT * row + 8}
        texts.append({"from": _ms(line.days[0]), "day": day, "days": list(map(_ms, line.days)), **words})
    marks = [{"day": day, "down": text["down"] - 6} for text in texts for day in text["days"]]
    layers: list[Spec] = [
        {
            "data": {"values": [text for text in texts if text["from"] < text["day"]]},
            "mark": {"type": "rect", "color": look.colours.accent, "opacity": 0.07},
            "encoding": {"x": _x("from"), "x2": {"field": "day"}, "y": _down(), "y2": {"value": height}},
        },
        {
            "data": {"values": marks},
            "mark": {"type": "rule", "color": look.colours.accent, "strokeDash": [6, 3], "strokeWidth": 1.5},
            "encoding": {"x": _x("day"), "y": _down(), "y2": {"value": height}},
        },
    ]
    for right in (False, True):
        side = {"align": "right", "dx": -4} if right else {"align": "left", "dx": 4}
        mark = {"type": "text", "color": look.colours.accent, **side}
        encoding = {"x": _x("day"), "y": _down(), "text": {"field": "label", "type": "nominal"}}
        values = [text for text in texts if text["right"] is right]
        layers.append({"data": {"values": values}, "mark": mark, "encoding": encoding})
    return layers


def _row(line: Line, middle: float) -> tuple[bool, int]:
    """Return what orders the rows so that words cross as few lines as may be.

    Words stand towards the middle: on the left the earliest line is the highest, on the
    right the latest, and a line begins at its words.
    """
    day = _ms(line.days[-1])
    return (True, -day) if day > middle else (False, day)


def _down() -> dict[str, Any]:
    return {"field": "down", "type": "quantitative", "scale": None}


def _line_label(line: Line, look: Look) -> str:
    most = 3 if look.narrow else 8
    more = f" and {len(line.offices) - most} more" if len(line.offices) > most else ""
    return f"{' '.join(line.offices[:most])}{more}: {' or '.join(day.isoformat() for day in line.days)}"
