"""Points of many dimensions laid on a plane, the same way every time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Numbers = NDArray[np.float64]
# How much the spread inside groups turns the plane, against that between them: enough to
# spread points where there are fewer than three groups, too little to lay groups on each other.
INSIDE = 0.25
# Boxes that touch do not overlap, whatever rounding says.
_ALMOST = 1 - 1e-9


@dataclass(frozen=True)
class Plane:
    """Where each point lies, (n, 2) in -1..1; kept: the share of the groups' spread that the plane shows."""

    points: Numbers
    kept: float


def lay_out(vectors: NDArray[np.float32], groups: Sequence[int]) -> Plane:
    """Return the points on the plane that shows best how far the groups lie apart.

    vectors: (n, d). groups: the group of each point, 0 for none. The plane is that of the
    two main axes of the groups' centres, weighted by their sizes, with a little of the
    points' own spread; each axis is turned so that its greatest share is positive. No
    chance in it: equal input gives equal output. Cost grows with n and with d squared.
    """
    points = np.asarray(vectors, dtype=np.float64)
    if not len(points):
        return Plane(np.zeros((0, 2)), 0.0)
    centred = points - points.mean(axis=0)
    numbers = np.asarray(groups)
    centres = [
        centred[numbers == group].mean(axis=0) * np.sqrt((numbers == group).sum())
        for group in sorted(set(groups) - {0})
    ]
    scatter = np.concatenate([np.array(centres).reshape(-1, points.shape[1]), INSIDE * centred])
    values, main = _main_axes(scatter.T @ scatter)
    greatest = main[np.abs(main).argmax(axis=0), np.arange(main.shape[1])]
    main = main * np.where(greatest < 0, -1.0, 1.0)
    flat = np.zeros((len(points), 2))
    flat[:, : main.shape[1]] = centred @ main
    whole = float((scatter**2).sum())
    kept = float(values.clip(0).sum()) / whole if whole > 0 else 0.0
    whole_width = float(np.abs(flat).max()) or 1.0
    return Plane((flat / whole_width).round(4), kept)


def _main_axes(spread: Numbers) -> tuple[Numbers, Numbers]:
    """Return the two largest eigenvalues and their axes as columns, largest first."""
    from scipy.linalg import eigh

    size = len(spread)
    values, axes = eigh(spread, subset_by_index=[max(0, size - 2), size - 1])
    return values[::-1], axes[:, ::-1]


@dataclass(frozen=True)
class View:
    """A window on a plane, in pixels and in the plane's own measure; one scale both ways."""

    width: int
    height: int
    across: tuple[float, float]
    down: tuple[float, float]
    scale: float


def view_of(points: Numbers, width: int, most_height: int) -> View:
    """Return the window of that width, at most so high, that shows all points as large as may be."""
    low, high = points.min(axis=0), points.max(axis=0)
    reach = np.maximum(high - low, 0.05) * 1.12  # room for marks and letters at the rim
    scale = float(min(width / reach[0], most_height / reach[1]))
    height = max(round(float(reach[1]) * scale), most_height // 2)
    middle, half = (low + high) / 2, np.array([width, height]) / scale / 2
    (left, bottom), (right, top) = middle - half, middle + half
    return View(width, height, (float(left), float(right)), (float(bottom), float(top)), scale)


def spread(
    places: Sequence[tuple[float, float]],
    width: float,
    height: float,
    taken: Sequence[tuple[float, float]] = (),
) -> list[tuple[float, float]]:
    """Return the places moved up or down as little as it takes that no two boxes of that size overlap.

    taken: middles of boxes that stay where they are. The highest is set down first; ties go
    by the order given. Of two free places equally near, the lower one.
    """
    moved = list(places)
    set_down = list(taken)
    for number in sorted(range(len(places)), key=lambda n: places[n][1]):
        across, down = places[number]
        beside = [other for x, other in set_down if abs(across - x) < width]
        edges = [other + side for other in beside for side in (height, -height)]
        free = [
            place
            for place in (down, *edges)
            if all(abs(place - other) >= height * _ALMOST for other in beside)
        ]
        moved[number] = (across, min(free, key=lambda place: (abs(place - down), -place)))
        set_down.append(moved[number])
    return moved
