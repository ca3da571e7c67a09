"""Sources and overlaps: which sources hold which references, and how many only one holds."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Any

import duckdb

from pipeline.pictures.picture import Look, Picture, Row, Spec, Table, list_page

TITLE = "Sources and overlaps"
MOST_DRAWN = 20
ROW_HEIGHT = 22


@dataclass(frozen=True)
class Holdings:
    """What the sources hold.

    together: (sources, how many references just these hold), most first. asked: every
    source that answered, also one that brought nothing.
    """

    together: tuple[tuple[tuple[str, ...], int], ...]
    asked: tuple[str, ...]

    @property
    def references(self) -> int:
        """Return how many references there are."""
        return sum(count for _, count in self.together)

    def held(self, source: str) -> int:
        """Return how many references the source holds."""
        return sum(count for sources, count in self.together if source in sources)

    def only(self, source: str) -> int:
        """Return how many references no other source holds."""
        return sum(count for sources, count in self.together if sources == (source,))


def read_holdings(con: duckdb.DuckDBPyConnection) -> Holdings:
    """Return the holdings; cost grows with the records."""
    together = con.execute(
        "SELECT sources, count(*) FROM ("
        "SELECT reference_id, list_sort(list(DISTINCT source)) AS sources "
        "FROM membership JOIN record USING (record_id) GROUP BY reference_id) "
        "GROUP BY sources ORDER BY count(*) DESC, sources"
    ).fetchall()
    asked = con.execute(
        "SELECT source FROM record UNION SELECT source FROM search WHERE requests > 0 ORDER BY 1"
    ).fetchall()
    return Holdings(
        tuple((tuple(sources), count) for sources, count in together), tuple(row[0] for row in asked)
    )


def overlap_picture(holdings: Holdings) -> Picture:
    """Return the picture, its table of sources and its table of those that hold together."""
    if not holdings.together:
        why = "No run has brought anything yet. After the first run this shows which source holds what."
        return Picture("sources", TITLE, (why,))
    tables = (source_table(holdings), together_table(holdings))
    return Picture("sources", TITLE, (_says(holdings),), tables, partial(draw, holdings))


def _says(holdings: Holdings) -> str:
    single = sum(count for sources, count in holdings.together if len(sources) == 1)
    says = [
        f"{single:,} of {holdings.references:,} references are held by one source only: "
        "without that source they would not have been found.",
        "A filled mark is a source that holds the references of its line, a small empty one does not.",
    ]
    if len(holdings.together) > MOST_DRAWN:
        rest = sum(count for _, count in holdings.together[MOST_DRAWN:])
        lines = len(holdings.together) - MOST_DRAWN
        says.append(f"{lines} rarer combinations ({rest:,} references) are in the table only.")
    return " ".join(says)


def source_table(holdings: Holdings) -> Table:
    """Return what each source holds, and how much of it no other does."""
    whole = holdings.references
    ordered = sorted(holdings.asked, key=lambda name: (-holdings.held(name), name))
    rows = []
    for name in ordered:
        held = holdings.held(name)
        cells = (name, f"{held:,}", f"{held / whole:.0%}", f"{holdings.only(name):,}")
        rows.append(Row(cells, {1: list_page(source=name)} if held else {}))
    return Table("The sources", ("Source", "References", "Share of all", "Held by no other"), tuple(rows))


def together_table(holdings: Holdings) -> Table:
    """Return each set of sources that hold references together, most references first."""
    rows = tuple(Row((" + ".join(sources), f"{count:,}")) for sources, count in holdings.together)
    return Table("Held by just these", ("Sources", "References"), rows)


def draw(holdings: Holdings, look: Look) -> Spec:
    """Return the drawing as a Vega-Lite specification: a line per set of sources, marks and a bar."""
    drawn = holdings.together[:MOST_DRAWN]
    sources = sorted(holdings.asked, key=lambda name: (-holdings.held(name), name))
    lines = [str(number) for number in range(len(drawn))]
    y = {"field": "line", "type": "ordinal", "sort": lines, "axis": None}
    step = min(60.0, (170 if look.narrow else 420) / len(sources))
    bars = [
        {"line": line, "count": count, "Sources": " + ".join(names), "text": f"{count:,}"}
        for line, (names, count) in zip(lines, drawn, strict=True)
    ]
    height = {"step": ROW_HEIGHT}
    return {
        "spacing": 12,
        "hconcat": [
            {"width": {"step": step}, "height": height, "layer": _dots(drawn, lines, sources, y, look)},
            {
                "width": look.width - step * len(sources) - 70,
                "height": height,
                "data": {"values": bars},
                "layer": _bars(y, look),
            },
        ],
    }


def _dots(
    drawn: tuple[tuple[tuple[str, ...], int], ...],
    lines: list[str],
    sources: list[str],
    y: dict[str, Any],
    look: Look,
) -> list[Spec]:
    axis = {"title": None, "orient": "top", "labelAngle": -40, "domain": False, "ticks": False,
            "labelPadding": 8}  # fmt: skip
    x = {"field": "source", "type": "nominal", "sort": sources, "axis": axis, "scale": {"domain": sources}}
    marks = [
        {"line": line, "source": source, "held": source in names}
        for line, (names, _) in zip(lines, drawn, strict=True)
        for source in sources
    ]
    ends = [
        {"line": line, "source": held[0], "last": held[-1]}
        for line, (names, _) in zip(lines, drawn, strict=True)
        for held in [[source for source in sources if source in names]]
        if len(held) > 1
    ]
    ink, quiet = look.colours.states[3], look.colours.quiet
    layers: list[Spec] = [
        {
            "data": {"values": ends},
            "mark": {"type": "rule", "strokeWidth": 2, "color": ink},
            "encoding": {"x": x, "x2": {"field": "last"}, "y": y},
        }
    ]
    for held, size, fill in ((True, 110, ink), (False, 24, look.colours.paper)):
        values = [mark for mark in marks if mark["held"] is held]
        mark = {"type": "point", "opacity": 1, "size": size, "fill": fill, "stroke": ink if held else quiet,
                "strokeWidth": 1}  # fmt: skip
        layers.append({"data": {"values": values}, "mark": mark, "encoding": {"x": x, "y": y}})
    return layers


def _bars(y: dict[str, Any], look: Look) -> list[Spec]:
    axis = {"title": "references", "orient": "top", "tickCount": 4, "format": ",d", "tickMinStep": 1,
            "grid": False}  # fmt: skip
    x = {"field": "count", "type": "quantitative", "axis": axis}
    tooltip = [
        {"field": "Sources", "type": "nominal"},
        {"field": "text", "type": "nominal", "title": "References"},
    ]
    number = {"type": "text", "align": "left", "dx": 4}
    return [
        {
            "mark": {"type": "bar", "color": look.colours.states[3], "height": {"band": 0.6}},
            "encoding": {"x": x, "y": y, "tooltip": tooltip},
        },
        {"mark": number, "encoding": {"x": x, "y": y, "text": {"field": "text", "type": "nominal"}}},
    ]
