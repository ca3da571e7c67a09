"""The element matrix: the numbers of its cells, what was not compared, what the user said is shown."""

from __future__ import annotations

from pathlib import Path

from pipeline.decisions import Decisions
from pipeline.matter import load_matter
from pipeline.pictures.matrix import Matrix, matrix_picture, read_matrix
from pipeline.pictures.picture import Look
from pipeline.store import open_store


def read(folder: Path, after: int = 0) -> Matrix:
    """Return the matrix as the page reads it."""
    with open_store(folder, read_only=True) as con:
        return read_matrix(con, Decisions(folder).standing(), load_matter(folder).elements, after)


def test_cells_are_the_closenesses_by_place(field_folder: Path) -> None:
    """Not compared is a dash, never 0; S is what the user said."""
    table = matrix_picture(read(field_folder)).tables[0]
    assert table.head == ("Place", "Title", "A", "B")
    assert [(row.links[1], *row.cells[2:]) for row in table.rows] == [
        ("/reference/r1", "0.80 S", "0.20"),
        ("/reference/r2", "0.10", "0.60"),
        ("/reference/r3", "0.30", "–"),
        ("/reference/r4", "–", "–"),
        ("/reference/r5", "–", "–"),
    ]


def test_the_drawing_shows_the_cells_of_the_table(field_folder: Path) -> None:
    """Reference by reference and element by element the same text; nothing known has no shade."""
    picture = matrix_picture(read(field_folder))
    assert picture.draw is not None
    cells = [value["cell"] for value in picture.draw(Look())["data"]["values"]]
    assert cells == [cell for row in picture.tables[0].rows for cell in row.cells[2:]]
    unknown = [value["close"] for value in picture.draw(Look())["data"]["values"] if value["cell"] == "–"]
    assert unknown == [None] * 5


def test_each_element_names_its_closest(field_folder: Path) -> None:
    """The best cell of each column, with the text of the element."""
    table = matrix_picture(read(field_folder)).tables[1]
    assert [(*row.cells, row.links[2]) for row in table.rows] == [
        ("A", "a hinge", "#1 0.80 S", "/reference/r1"),
        ("B", "a spring", "#2 0.60", "/reference/r2"),
    ]


def test_a_further_page_begins_after_that_place(field_folder: Path) -> None:
    """Rows below place 3; past the end it says so."""
    assert [row.place for row in read(field_folder, 3).rows] == [4, 5]
    beyond = matrix_picture(read(field_folder, 5))
    assert beyond.draw is None
    assert "none stands below place 5" in beyond.says[0]


def test_no_run_yet_is_said(empty_folder: Path) -> None:
    """Nothing to draw: words."""
    picture = matrix_picture(read(empty_folder))
    assert (picture.draw, picture.tables) == (None, ())
    assert "No run has brought anything yet" in picture.says[0]
