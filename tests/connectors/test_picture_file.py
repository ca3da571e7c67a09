"""Picture files: what their clocks say is a claim, and likeness tells copies from strangers."""

from __future__ import annotations

import io
import random
from datetime import date
from typing import Any

import pytest
from PIL import Image, ImageDraw

from connectors.picture_file import ALIKE, is_picture, likeness_gap, read_picture

SEEN = date(2026, 11, 25)


def drawing(seed: int) -> Image.Image:
    """Return a line drawing, as figures in patents are."""
    chance = random.Random(seed)  # noqa: S311 - the same drawing every time
    image = Image.new("RGB", (400, 300), "white")
    pen = ImageDraw.Draw(image)
    for _ in range(14):
        box = sorted(chance.sample(range(400), 2)), sorted(chance.sample(range(300), 2))
        shape = (box[0][0], box[1][0], box[0][1], box[1][1])
        name = chance.choice(("ellipse", "rectangle", "line"))
        ink = {"fill": "black"} if name == "line" else {"outline": "black"}
        getattr(pen, name)(shape, width=4, **ink)
    return image


def saved(image: Image.Image, form: str = "PNG", **named: Any) -> bytes:
    """Return the picture's file."""
    out = io.BytesIO()
    image.save(out, form, **named)
    return out.getvalue()


def with_exif(**tags: str) -> bytes:
    """Return a picture whose camera wrote these tags."""
    names = {
        "DateTimeOriginal": (0x8769, 0x9003),
        "DateTimeDigitized": (0x8769, 0x9004),
        "GPSDateStamp": (0x8825, 0x1D),
    }
    exif = Image.Exif()
    for name, text in tags.items():
        if name in names:
            folder, tag = names[name]
            exif.get_ifd(folder)[tag] = text
        else:
            exif[{"DateTime": 0x0132, "Make": 0x010F, "Model": 0x0110, "ImageDescription": 0x010E}[name]] = (
                text
            )
    return saved(drawing(1), "JPEG", exif=exif.tobytes())


def test_the_cameras_clock_is_a_claim_with_its_place() -> None:
    """Taken and changed are told apart, and neither is public."""
    read = read_picture(with_exif(DateTimeOriginal="2019:05:02 10:11:12", DateTime="2019:07:01 00:10:00",
                                  Make="Lens", Model="One"), SEEN)  # fmt: skip
    assert [(each.kind, each.days.text(), each.field) for each in read.dates] == [
        ("taken", "2019-05-02", "EXIF DateTimeOriginal"), ("updated", "2019-07-01", "EXIF DateTime"),
    ]  # fmt: skip
    assert ("camera", "Lens One") in read.details


# Exif 2.32, 4.6.5: blanks or zeros where unknown. Wrong clocks: see the samples beside the checkout.
NOT_BELIEVED = [
    ("2031:01:02 03:04:05", "a wrong clock"), ("1998:01:01 00:00:00", "reset"), ("2005:13:40 00:00:00", "no date"),
    ("last summer", "no date"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "why"), NOT_BELIEVED)
def test_a_clock_that_can_not_be_right_is_not_used(text: str, why: str) -> None:
    """Later than the file was seen, reset, impossible: shown with why, and no event."""
    read = read_picture(with_exif(DateTimeOriginal=text), SEEN)
    assert read.dates == () and any(text in told and why in told for _, told in read.details)


@pytest.mark.parametrize("text", ["0000:00:00 00:00:00", "    :  :     :  :  ", ""])
def test_an_unset_clock_says_nothing(text: str) -> None:
    """Zeros and blanks stand for unknown."""
    read = read_picture(with_exif(DateTimeOriginal=text), SEEN)
    assert read.dates == () and not [name for name, _ in read.details if "EXIF" in name]


def variants() -> list[tuple[str, bytes]]:
    """Return copies of one picture in other sizes and wrappings."""
    image = drawing(7)
    half = image.resize((200, 150))
    clear = Image.new("RGBA", image.size)
    clear.paste(image.convert("RGBA"))
    return [
        ("JPEG", saved(image, "JPEG", quality=60)), ("half the size", saved(half)), ("WebP", saved(image, "WEBP")),
        ("grey", saved(image.convert("L"))), ("GIF", saved(image, "GIF")), ("with transparency", saved(clear)),
    ]  # fmt: skip


@pytest.mark.parametrize(("how", "body"), variants(), ids=[how for how, _ in variants()])
def test_copies_in_other_wrappings_look_alike(how: str, body: bytes) -> None:
    """Both hashes stay near; the bytes differ."""
    gap = likeness_gap(read_picture(saved(drawing(7)), SEEN).likeness, read_picture(body, SEEN).likeness)
    assert gap is not None and max(gap) <= ALIKE, how


def test_different_drawings_do_not_look_alike() -> None:
    """Of forty random line drawings no two are within the bound, so that figures are not mixed up."""
    hashes = [read_picture(saved(drawing(seed)), SEEN).likeness for seed in range(40)]
    gaps = [likeness_gap(a, b) for at, a in enumerate(hashes) for b in hashes[:at]]
    assert all(gap is not None and max(gap) > ALIKE for gap in gaps)


def test_a_flat_picture_is_like_no_other() -> None:
    """Blank pictures of any grey have nearly one hash: they get none."""
    flat = read_picture(saved(Image.new("RGB", (300, 300), "lightgrey")), SEEN)
    assert flat.likeness == "" and likeness_gap(flat.likeness, flat.likeness) is None and flat.pixels_sha256


def test_equal_pixels_are_seen_whatever_the_wrapping() -> None:
    """PNG and BMP of one picture have one hash of pixels."""
    assert (
        len({read_picture(saved(drawing(3), form), SEEN).pixels_sha256 for form in ("PNG", "BMP", "TIFF")})
        == 1
    )


def bomb() -> bytes:
    """Return a small file that unfolds to 400 million pixels."""
    return saved(Image.new("1", (20_000, 20_000)), "PNG")


BROKEN = [
    b"\x89PNG\r\n\x1a\n",
    b"\xff\xd8\xff\xe0junk",
    saved(drawing(1))[:300],
    b"GIF89a",
    b"RIFF\0\0\0\0WEBP",
]


@pytest.mark.parametrize("body", BROKEN, ids=range(len(BROKEN)))
def test_a_broken_file_is_kept_with_its_problem(body: bytes) -> None:
    """Nothing is raised, no hash is made up."""
    read = read_picture(body, SEEN)
    assert is_picture(body) and read.problem and read.likeness == "" and read.pixels_sha256 == ""


def test_a_bomb_is_not_unfolded() -> None:
    """Past the bound of pixels nothing is decoded."""
    body = bomb()
    assert len(body) < 100_000
    read = read_picture(body, SEEN)
    assert read.problem and not read.likeness


def test_pictures_are_told_by_their_first_bytes() -> None:
    """Whatever the header calls them."""
    assert is_picture(saved(drawing(1), "JPEG")) and is_picture(saved(drawing(1), "WEBP"))
    assert not is_picture(b"<html>") and not is_picture(b"%PDF-1.4") and not is_picture(b"")
