"""Pictures that look alike are shown beside each other and never merged."""

from __future__ import annotations

import io

from PIL import Image

from pipeline.lookalikes import Lookalike, compare
from pipeline.showing import read_related
from pipeline.store import open_store
from tests.pipeline.capture.world import PICTURE, Bench


def test_pictures_that_look_alike_are_shown_and_not_merged(bench: Bench) -> None:
    """The same drawing as JPEG at another address: another reference, found to look like the first."""
    out = io.BytesIO()
    Image.open(io.BytesIO(PICTURE)).save(out, "JPEG", quality=80)
    bench.world.pages["/copy.jpg"] = {"body": out.getvalue(), "headers": {"Content-Type": "image/jpeg"}}
    bench.capture("/cut.png", "/copy.jpg")
    one, two = bench.hits()
    with open_store(bench.folder, read_only=True) as con:
        (found,) = [each for each in read_related(con, one.reference_id) if each.kind == "looks like"]
    assert found.reference_id == two.reference_id and "likeness merges nothing" in found.note


def test_lookalikes_are_sorted_by_likeness_and_bounded() -> None:
    """The nearest first, each reference once by its nearest picture, nothing past the bound, oneself never."""
    base = "0000000000000000-0000000000000000"
    rows = [("a", "A", base), ("a", "A", "ffffffffffffffff-ffffffffffffffff"), ("b", "B", "0000000000000007-0000000000000000"),
            ("b", "B", "0000000000000001-0000000000000000"), ("c", "C", base), ("d", "D", "00000000000000ff-0000000000000000")]  # fmt: skip
    assert compare("a", rows) == [Lookalike("c", "C", 0), Lookalike("b", "B", 1)]
    assert compare("x", rows) == []
