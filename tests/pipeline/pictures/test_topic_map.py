"""The topic map: like near like, the same every time, with the topics in words beside it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sklearn.datasets import make_blobs
from sklearn.decomposition import PCA
from sklearn.manifold import trustworthiness
from sklearn.metrics import silhouette_score

from pipeline.pictures.layout import lay_out, spread, view_of
from pipeline.pictures.picture import Look
from pipeline.pictures.topic_field import Map
from pipeline.pictures.topic_map import read_map, topic_picture
from pipeline.store import open_store


def read(folder: Path) -> Map:
    """Return the map as the page reads it."""
    with open_store(folder, read_only=True) as con:
        return read_map(con, "Hinge\nA lid hinge.")


def test_only_embedded_references_are_on_the_map(field_folder: Path) -> None:
    """r1 to r4 have vectors, r5 has none, r6 no place."""
    field = read(field_folder)
    assert [(point.reference_id, point.topic) for point in field.points] == [
        ("r1", 1), ("r2", 1), ("r3", 2), ("r4", 2),
    ]  # fmt: skip
    assert field.vectors.shape == (4, 3)
    assert field.invention is None


def test_tables_say_what_the_map_shows(field_folder: Path) -> None:
    """A line a topic with its size and its best placed; a line a reference."""
    topics, members = topic_picture(read(field_folder)).tables
    assert [(*row.cells[:3], row.links[2], row.links[3]) for row in topics.rows] == [
        ("1", "spring, lid", "2", "/?tag=all&topic=spring%2C+lid", "/reference/r1"),
        (
            "2",
            "hinge, <b>axis</b>",
            "2",
            "/?tag=all&topic=hinge%2C+%3Cb%3Eaxis%3C%2Fb%3E",
            "/reference/r3",
        ),
    ]
    assert [(row.cells[0], row.cells[1], row.links[2][-2:]) for row in members.rows] == [
        ("1", "#1", "r1"), ("1", "#2", "r2"), ("2", "#3", "r3"), ("2", "#4", "r4"),
    ]  # fmt: skip


def test_the_drawing_holds_a_mark_for_each_line_of_its_table(field_folder: Path) -> None:
    """Titles of the marks and of the table are the same, in the same topics."""
    picture = topic_picture(read(field_folder))
    assert picture.draw is not None
    marks = picture.draw(Look())["layer"][0]["data"]["values"]
    assert {(mark["kind"], mark["Title"].split()[0]) for mark in marks} == {
        row.cells[:2] for row in picture.tables[1].rows
    }


def test_the_invention_is_a_star(
    field_folder: Path, embed_text: Callable[[str, tuple[float, ...]], None]
) -> None:
    """Once title and summary are embedded, the star stands and is told of."""
    embed_text("Hinge\nA lid hinge.", (0.6, 0.8, 0))
    picture = topic_picture(read(field_folder))
    assert "The star is the invention's summary" in picture.says[0]
    assert picture.draw is not None
    texts = picture.draw(Look())["layer"][1]["data"]["values"]
    assert texts[-1]["label"] == "★ the invention"


def test_vectors_of_another_model_are_left_out(field_folder: Path) -> None:
    """Numbers of two models do not mix: the one that most texts have is taken."""
    with open_store(field_folder) as con:
        con.execute("UPDATE embedding SET model = 'other' WHERE vector[1] = 1")
    assert [point.reference_id for point in read(field_folder).points] == ["r2", "r3", "r4"]


def test_nothing_embedded_yet_is_said(field_folder: Path) -> None:
    """No drawing, and words that say what will change it."""
    with open_store(field_folder) as con:
        con.execute("DELETE FROM embedding")
    picture = topic_picture(read(field_folder))
    assert picture.draw is None
    assert "embedded yet" in picture.says[0]


def test_groups_stay_apart_better_than_in_the_plain_main_plane() -> None:
    """Outside judge: scikit-learn's trustworthiness of neighbourhoods, on blobs in 40 dimensions."""
    points, groups = make_blobs(
        300, n_features=40, centers=np.eye(6, 40) * 4.0, cluster_std=0.7, random_state=3
    )
    shown = lay_out(points.astype(np.float32), [int(group) + 1 for group in groups]).points
    centred = points - points.mean(axis=0)
    plain = centred @ np.linalg.svd(centred, full_matrices=False)[2][:2].T
    rows = np.random.default_rng(1).standard_normal((300, 2))
    judged = [trustworthiness(points, place, n_neighbors=10) for place in (shown, plain, rows)]
    assert judged[0] >= judged[1] - 0.005
    assert judged[0] > judged[2] + 0.1


def test_the_plane_follows_the_groups_not_the_widest_spread() -> None:
    """Where the points spread most across the groups, the groups stay apart; outside judge: silhouettes."""
    random = np.random.default_rng(2)
    groups = np.repeat([1, 2, 3], 50)
    points = random.standard_normal((150, 6)) * [1.5, 0.2, 0.2, 0.2, 0.2, 0.2]
    points[:, 1:3] += np.array([[0, 0], [1.5, 0], [0, 1.5], [0, 0]])[groups]
    shown = lay_out(points.astype(np.float32), groups.tolist()).points
    plain = PCA(2, svd_solver="full").fit_transform(points)
    assert silhouette_score(shown, groups) > 0.5
    assert silhouette_score(plain, groups) < 0.4


@pytest.mark.parametrize("axis", range(5))
@pytest.mark.parametrize("way", [1.0, -1.0])
def test_an_axis_points_to_its_greatest_share(axis: int, way: float) -> None:
    """Which side is which does not hang on the linear algebra of the machine."""
    points = np.zeros((4, 5), np.float32)
    points[0, axis], points[1:, axis] = 3 * way, -way
    shown = lay_out(points, [0, 0, 0, 0]).points
    assert shown[0].tolist() == [way, 0.0]


@given(st.permutations(range(8)))
def test_the_order_of_input_changes_no_place(order: list[int]) -> None:
    """Each point gets the same place whatever came first, and twice the same gives the same."""
    vectors = np.random.default_rng(5).standard_normal((8, 5)).astype(np.float32)
    groups = [1, 1, 1, 2, 2, 2, 0, 0]
    one = lay_out(vectors, groups)
    other = lay_out(vectors[order], [groups[row] for row in order])
    assert np.allclose(one.points[order], other.points, atol=2e-4)
    assert np.array_equal(one.points, lay_out(vectors, groups).points)
    assert np.abs(one.points).max() == 1.0
    assert 0 < one.kept <= 1


def test_one_point_and_equal_points_have_a_place() -> None:
    """Nothing to tell apart gives the middle, not an error."""
    for count in (1, 3):
        plane = lay_out(np.ones((count, 4), np.float32), [0] * count)
        assert np.array_equal(plane.points, np.zeros((count, 2)))
        view = view_of(plane.points, 400, 300)
        assert view.across[0] < 0 < view.across[1]
    assert lay_out(np.zeros((0, 1), np.float32), []).points.shape == (0, 2)


@given(st.lists(st.tuples(st.floats(0, 300), st.floats(0, 300)), max_size=12))
def test_labels_never_lie_on_each_other(places: list[tuple[float, float]]) -> None:
    """Moved up or down only, and no two boxes overlap, the one that stays where it is included."""
    fixed = (150.0, 150.0)
    moved = spread(places, 60, 14, [fixed])
    assert all(new[0] == old[0] for new, old in zip(moved, places, strict=True))
    boxes = [fixed, *moved]
    for at, one in enumerate(boxes):
        for other in boxes[at + 1 :]:
            assert abs(one[0] - other[0]) >= 60 or abs(one[1] - other[1]) >= 14 - 1e-6
