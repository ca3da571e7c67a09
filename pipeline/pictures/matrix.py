"""Element matrix: how close each reference comes to each element."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any

import duckdb
import pyarrow as pa

from pipeline import cautions
from pipeline.decisions import Decision
from pipeline.pictures.field import Pictured, nothing_yet, read_best, read_counts
from pipeline.pictures.picture import (
    LONGEST_CELL,
    Look,
    Picture,
    Row,
    Spec,
    Table,
    label,
    link,
    reference_page,
)

TITLE = "Element matrix"
PAGE = 50
ROW_HEIGHT = 20
# Said by the user, not estimated; a letter rather than a sign, so that every font has it.
SHOWN = "S"
UNKNOWN = "–"


@dataclass(frozen=True)
class Matrix:
    """References × elements. closeness: (reference, letter) -> 0..1; what is not there was not compared.

    after: the place before the first row; elements: letter -> text.
    """

    elements: Mapping[str, str]
    rows: tuple[Pictured, ...]
    closeness: Mapping[tuple[str, str], float]
    after: int
    references: int
    placed: int

    def cell(self, row: Pictured, letter: str) -> str:
        """Return what stands in a cell: the closeness, or that it was not compared, and S where shown."""
        value = self.closeness.get((row.reference_id, letter))
        text = UNKNOWN if value is None else f"{value:.2f}"
        return f"{text} {SHOWN}" if letter in row.shown else text


def read_matrix(
    con: duckdb.DuckDBPyConnection, standing: Iterable[Decision], elements: Mapping[str, str], after: int
) -> Matrix:
    """Return PAGE references below place `after`, with their closeness to each element."""
    rows = read_best(con, standing, PAGE, after)
    wanted = pa.array([row.reference_id for row in rows], pa.string())
    con.register("wanted", pa.table({"reference_id": wanted}))
    found = con.execute(
        "SELECT reference_id, element, closeness FROM element_match SEMI JOIN wanted USING (reference_id)"
    ).fetchall()
    con.unregister("wanted")
    closeness = {(reference, letter): value for reference, letter, value in found}
    return Matrix(elements, rows, closeness, after, *read_counts(con))


def matrix_picture(matrix: Matrix) -> Picture:
    """Return the picture and the tables of its cells and of the elements."""
    if not matrix.rows or not matrix.elements:
        why = nothing_yet(matrix.references, matrix.placed) or (
            f"There are {matrix.placed:,} ranked references; none stands below place {matrix.after:,}."
            if matrix.elements
            else "matter.toml names no elements: write them under [invention.elements] to see them here."
        )
        return Picture("elements", TITLE, (why,))
    tables = (cell_table(matrix), element_table(matrix))
    return Picture("elements", TITLE, (_says(matrix),), tables, partial(draw, matrix), cautions.MACHINE_TEXT)


def _says(matrix: Matrix) -> str:
    first, last = matrix.rows[0].place, matrix.rows[-1].place
    says = [
        f"Places {first:,} to {last:,} of {matrix.placed:,}.",
        "0 is unlike, 1 is the same words and meaning.",
    ]
    if any(row.shown for row in matrix.rows):
        says.append(f"{SHOWN} stands where you judged that the reference shows the element.")
    cells = len(matrix.rows) * len(matrix.elements)
    if len(matrix.closeness) < cells:
        says.append(f"{UNKNOWN} was not compared: only the best placed are, element by element.")
    return " ".join(says)


def cell_table(matrix: Matrix) -> Table:
    """Return the cells as they are drawn, row by row."""
    rows = tuple(
        Row(
            (
                f"#{row.place}",
                label(row.title, LONGEST_CELL),
                *(matrix.cell(row, letter) for letter in matrix.elements),
            ),
            {1: reference_page(row.reference_id)},
        )
        for row in matrix.rows
    )
    return Table("Closeness to each element", ("Place", "Title", *matrix.elements), rows)


def element_table(matrix: Matrix) -> Table:
    """Return the elements, with the reference of this page that comes closest to each."""
    rows = []
    for letter, text in matrix.elements.items():
        near = [row for row in matrix.rows if (row.reference_id, letter) in matrix.closeness]
        best = max(near, key=lambda row: matrix.closeness[row.reference_id, letter], default=None)
        closest = f"#{best.place} {matrix.cell(best, letter)}" if best else UNKNOWN
        links = {2: reference_page(best.reference_id)} if best else {}
        rows.append(Row((letter, label(text, LONGEST_CELL), closest), links))
    return Table("The elements", ("Element", "Text", "Closest here"), tuple(rows))


def draw(matrix: Matrix, look: Look) -> Spec:
    """Return the drawing as a Vega-Lite specification: a shaded cell with its number in it."""
    names = {row.reference_id: _name(row, look) for row in matrix.rows}
    values = [
        {
            "row": names[row.reference_id],
            "element": letter,
            "close": matrix.closeness.get((row.reference_id, letter)),
            "cell": _short(matrix.cell(row, letter), look),
            "Title": f"#{row.place} {label(row.title)}",
            "Element": f"{letter}: {label(matrix.elements[letter])}",
            "Closeness": matrix.cell(row, letter),
            **link(row.reference_id, look),
        }
        for row in matrix.rows
        for letter in matrix.elements
    ]
    place = _place(matrix, names, look)
    cell = (look.width - _label_room(look) - 10) / max(len(matrix.elements), 6)
    return {
        "width": {"step": min(cell, 64)},
        "height": {"step": ROW_HEIGHT},
        "data": {"values": values},
        "layer": [
            {"mark": {"type": "rect", "stroke": look.colours.paper}, "encoding": {**place, **_shade(look)}},
            {
                "mark": {"type": "text", "fontSize": 9 if look.narrow else 11},
                "encoding": {**place, "text": {"field": "cell", "type": "nominal"}},
            },
        ],
    }


def _name(row: Pictured, look: Look) -> str:
    return f"#{row.place} {label(row.title, 16 if look.narrow else 60)}"


def _short(cell: str, look: Look) -> str:
    """Return the cell without its leading nought where the cell is narrow."""
    return cell.replace("0.", ".").replace(" ", "") if look.narrow else cell


def _place(matrix: Matrix, names: Mapping[str, str], look: Look) -> dict[str, Any]:
    axis = {"title": None, "orient": "top", "labelAngle": 0, "domain": False, "ticks": False}
    room = _label_room(look)
    side = {**axis, "orient": "left", "labelLimit": room - 6, "labelAlign": "left", "labelPadding": room}
    return {
        "x": {"field": "element", "type": "nominal", "sort": list(matrix.elements), "axis": axis},
        "y": {"field": "row", "type": "nominal", "sort": list(names.values()), "axis": side},
        "tooltip": [{"field": name, "type": "nominal"} for name in ("Title", "Element", "Closeness")],
        **({"href": {"field": "href", "type": "nominal"}} if look.live else {}),
    }


def _label_room(look: Look) -> int:
    return 105 if look.narrow else 360


def _shade(look: Look) -> dict[str, Any]:
    scale = {"domain": [0, 1], "range": look.colours.heat, "interpolate": "rgb", "clamp": True}
    return {"color": {"field": "close", "type": "quantitative", "scale": scale, "legend": None}}
