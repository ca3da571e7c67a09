"""One file of Wikimedia Commons → a record for each of its uploads.

Descriptions are HTML made from templates that anyone may edit: read as text. The day of the
work or of the shot is what a person wrote; it is told, and dates nothing.
"""

from __future__ import annotations

import re

from connectors.days import Days, parse_days
from connectors.json_answer import Node, OddShape
from connectors.record import Person, Record, Relation, StatedDate, StatedIdentifier

# The machine's copy of a date stands hidden beside the one that is shown.
_HIDDEN = re.compile(r"<div style=\"display: ?none;?\">.*?</div>", re.DOTALL)
_INSTANT = re.compile(r"(\d{4}-\d\d-\d\d)[T ]\d\d:\d\d:\d\dZ?")
_EXTENSION = re.compile(r"\.[A-Za-z0-9]{1,5}$")
_MOST_WORDS = 5  # of a name; longer is a sentence about who made it
_FROM_METADATA = "the upload shown is the newest; its time is stated without a zone and taken as UTC"


def read_file(page: Node) -> tuple[Record, ...]:
    """Return a record for each upload listed, newest first. Raises OddShape where none is."""
    uploads = page.at("imageinfo").each()
    title = page.at("title").text()
    if not uploads or not title:
        raise OddShape(page.at("imageinfo").path, "lists no upload, so nothing tells what and when")
    number = page.at("pageid").whole() or 0
    name = str(number) if number > 0 else title  # asked through another wiki, it has no number there
    return tuple(_record(name, title, upload) for upload in uploads)


def _record(name: str, title: str, upload: Node) -> Record:
    said = upload.at("extmetadata")
    dates, when = _posted(upload, said)
    address = upload.at("url").text()
    at = upload.at("descriptionurl").text()
    creator = _value(said, "Artist")
    return Record(
        source="wikimedia",
        native_id=f"{name} {when or upload.at('sha1').text() or 'upload without a time'}",
        kind="picture",
        title=_EXTENSION.sub("", title.removeprefix("File:")),
        abstract=_value(said, "ImageDescription"),
        people=(Person(creator),) if 0 < len(creator.split()) <= _MOST_WORDS else (),
        venue="Wikimedia Commons",
        version=when,
        url=at or address,
        identifiers=(StatedIdentifier("url", address),) if address else (),
        dates=dates,
        # All uploads of a file are versions of what its page shows.
        relations=(Relation("version of", StatedIdentifier("url", at), "an upload of it"),) if at else (),
        details=_details(upload, said, creator),
    )


def _posted(upload: Node, said: Node) -> tuple[tuple[StatedDate, ...], str]:
    """Return the logged time of the upload as a day, and its text; nothing where none can be read."""
    for text, field, note in (
        (upload.at("timestamp").text(), "imageinfo.timestamp", ""),
        (_value(said, "DateTime"), "extmetadata.DateTime", _FROM_METADATA),
    ):
        found = _INSTANT.fullmatch(text)
        days: Days | None = parse_days(found[1]) if found else None
        if days:
            return (StatedDate("posted", text, days, field, note),), text
    return (), ""


def _value(said: Node, name: str) -> str:
    """Return a description field as plain text on one line, what is hidden left out."""
    value = said.at(name).at("value").value
    if isinstance(value, int | float) and not isinstance(value, bool):
        return str(value)
    if not isinstance(value, str):
        return ""
    return Node(_HIDDEN.sub(" ", value), "").plain()


def _details(upload: Node, said: Node, creator: str) -> tuple[tuple[str, str], ...]:
    width, height = upload.at("width").whole(), upload.at("height").whole()
    facts = [
        ("creator, says its page", creator),
        ("day of the work or the shot, says its page (dates nothing)", _value(said, "DateTimeOriginal")),
        ("licence", " ".join(filter(None, (_value(said, "LicenseShortName"), _value(said, "LicenseUrl"))))),
        ("credit", _value(said, "Credit")),
        ("uploaded by", upload.at("user").text()),
        ("categories", _value(said, "Categories").replace("|", "; ")),
        ("file", upload.at("url").text()),
        ("size", f"{width} x {height}" if width and height else ""),
        ("type", upload.at("mime").text()),
        ("SHA-1 of this upload", upload.at("sha1").text()),
    ]
    return tuple((name, text[:2_000]) for name, text in facts if text)
