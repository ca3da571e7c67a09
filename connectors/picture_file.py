"""A picture file: its size, the dates its camera or editor wrote, and hashes for likeness.

Dates in a picture are claims of a clock that is often wrong (Exif 2.32, tags 0x9003, 0x9004,
0x0132, GPS 0x001D). Likeness: two perceptual hashes of 64 bits; they say "looks like", never
"is": line drawings crowd together.
"""

from __future__ import annotations

import hashlib
import io
import re
import warnings
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from connectors.days import Days
from connectors.record import StatedDate

MOST_PIXELS = 40_000_000
SIDE = 512  # pixels; hashes are taken of the picture shrunk to this, and differ by 0 or 1 from the whole's
# Of 64 bits, in both hashes: the same picture in another size or wrapping differs by less. Forty
# different line drawings came as near as 12, so that more would call different figures alike.
ALIKE = 6
FLATTEST = 4.0  # spread of grey (0..255) below which every picture looks like every other
TAKEN, UPDATED = "taken", "updated"
_CLOCK = "the camera's or program's clock, no proof of anything public"
_EXIF_DATES = ((0x9003, "DateTimeOriginal", TAKEN), (0x9004, "DateTimeDigitized", TAKEN),
               (0x0132, "DateTime", UPDATED))  # fmt: skip
_WHEN = re.compile(r"(\d{4}):(\d\d):(\d\d)(?: (\d\d):(\d\d):(\d\d))?")


@dataclass(frozen=True)
class Picture:
    """What a picture file says. width, height: pixels, 0 where it can't be decoded (problem says why).

    likeness: two 64-bit hashes in hex with a hyphen between, "" where the picture is flat or unread.
    pixels_sha256: of the decoded RGB, so that copies in other wrappings are seen to be the same.
    details: camera and the dates that were not believed, as (name, text).
    """

    format: str = ""
    width: int = 0
    height: int = 0
    dates: tuple[StatedDate, ...] = ()
    details: tuple[tuple[str, str], ...] = ()
    likeness: str = ""
    pixels_sha256: str = ""
    problem: str = ""


def is_picture(body: bytes) -> bool:
    """Tell by the first bytes whether this is a picture we read, whatever its header calls it."""
    return (
        body.startswith(
            (b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"GIF87a", b"GIF89a", b"BM", b"II*\0", b"MM\0*")
        )
        or (body[:4] == b"RIFF" and body[8:12] == b"WEBP")
        or body[4:12] in (b"ftypavif", b"ftypheic")
    )


def read_picture(body: bytes, seen_on: date) -> Picture:
    """Return what the file says; a problem instead of an error, whatever it holds.

    seen_on: the day it was received; a clock that says later was wrong.
    """
    from PIL import Image

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            warnings.simplefilter("ignore", UserWarning)  # broken EXIF is common
            with Image.open(io.BytesIO(body)) as image:
                if image.width * image.height > MOST_PIXELS:
                    return Picture(
                        str(image.format), problem=f"more than {MOST_PIXELS:,} pixels: not decoded"
                    )
                dates, details = _exif(image, seen_on)
                size, name = (image.width, image.height), str(image.format)
                pixels, likeness = _hashes(image)
    except Exception as problem:  # noqa: BLE001 - a decoder fed with a stranger's bytes may raise anything
        return Picture(problem=f"could not be decoded ({type(problem).__name__})")
    return Picture(name, *size, tuple(dates), tuple(details), likeness, pixels)


def likeness_gap(one: str, two: str) -> tuple[int, int] | None:
    """Return how many of 64 bits differ, of either hash; None where one of the two is not known."""
    if not one or not two:
        return None
    mine, theirs = (tuple(int(part, 16) for part in text.split("-")) for text in (one, two))
    return (mine[0] ^ theirs[0]).bit_count(), (mine[1] ^ theirs[1]).bit_count()


def _hashes(image: Any) -> tuple[str, str]:
    """Return the sha256 of the pixels, and the likeness hashes of the picture as it is shown."""
    import imagehash
    from PIL import Image, ImageOps, ImageStat

    shown = ImageOps.exif_transpose(image)
    if shown.mode in ("RGBA", "LA", "PA") or "transparency" in shown.info:
        layer = shown.convert("RGBA")
        shown = Image.alpha_composite(Image.new("RGBA", layer.size, "white"), layer)
    shown = shown.convert("RGB")
    told = f"{shown.width}x{shown.height}\n".encode()
    pixels = hashlib.sha256(told + shown.tobytes()).hexdigest()
    shown.thumbnail((SIDE, SIDE))
    grey = shown.convert("L")
    if ImageStat.Stat(grey).stddev[0] < FLATTEST:
        return pixels, ""
    return pixels, f"{imagehash.phash(grey)}-{imagehash.dhash(grey)}"


def _exif(image: Any, seen_on: date) -> tuple[list[StatedDate], list[tuple[str, str]]]:
    """Return the dates believed, and as details the camera and the dates not believed."""
    exif = image.getexif()
    tags = {**dict(exif), **dict(exif.get_ifd(0x8769))}
    dates, details = [], []
    for tag, name, kind in _EXIF_DATES:
        text = _text(tags.get(tag))
        read = _read_when(text, seen_on)
        if isinstance(read, date):
            dates.append(StatedDate(kind, text, Days.of_day(read), f"EXIF {name}", _CLOCK))
        elif read:
            details.append((f"EXIF {name} (not used)", f"{text}: {read}"))
    stamp = _text(exif.get_ifd(0x8825).get(0x001D))
    read = _read_when(stamp, seen_on)
    if isinstance(read, date):
        note = "satellite time, in UTC; what the file says, no proof of anything public"
        dates.append(StatedDate(TAKEN, stamp, Days.of_day(read), "EXIF GPSDateStamp", note))
    camera = " ".join(filter(None, (_text(tags.get(0x010F)), _text(tags.get(0x0110)))))
    details += [("camera", camera)] if camera else []
    details += [("EXIF description", text)] if (text := _text(tags.get(0x010E))) else []
    return dates, details


def _text(value: object) -> str:
    if isinstance(value, bytes):
        value = value.decode("utf-8", "replace")
    return " ".join(value.replace("\0", " ").split())[:500] if isinstance(value, str) else ""


def _read_when(text: str, seen_on: date) -> date | str:
    """Return the day of an EXIF time, or why it is not believed ("" where nothing is stated)."""
    if not text.strip(" :0"):
        return ""
    found = _WHEN.fullmatch(text)
    try:
        day = date(*(int(part) for part in found.groups()[:3])) if found else None
    except ValueError:
        day = None
    if found is None or day is None:
        return "no date"
    if day > seen_on + timedelta(days=1):  # a day of grace: clocks run on local time
        return "later than the day the file was seen: a wrong clock"
    if (day.month, day.day) == (1, 1) and (found[4] or "00") == "00" and (found[5] or "00") == "00":
        return "the first minutes of a year: a clock that was reset"
    return day
