"""What the topic map shows, as read from the store."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

NO_TOPIC = "no topic"


@dataclass(frozen=True)
class Point:
    """A reference on the map. topic: its number, 0 for none."""

    reference_id: str
    place: int
    title: str
    topic: int


@dataclass(frozen=True)
class Map:
    """What the topic map shows.

    points: the best placed embedded references, best first, with vectors row by row.
    invention: the vector of title and summary, None until embedded. topics: number -> (terms,
    how many references it has, drawn or not).
    """

    points: tuple[Point, ...]
    vectors: NDArray[np.float32]
    invention: NDArray[np.float32] | None
    topics: dict[int, tuple[str, int]]
    references: int
    placed: int
