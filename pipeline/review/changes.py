"""How a page changes anything: the decision is on the disk first, then the page is shown again.

A form names the last decision its page knew of. Where somebody has decided since, where
the store is locked or a word is wrong, nothing is written and a page shows what was typed,
so that it can be sent again.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from urllib.parse import parse_qsl, urlencode, urlsplit

from pydantic import BaseModel
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from pipeline.deciding import decide, describe, resolve_again
from pipeline.decisions import Decision
from pipeline.errors import AntedateError, NotFound, StoreLocked
from pipeline.review.site import Site, site_of


class Form(BaseModel):
    """What every form sends: where to go back to, and the last decision made when its page was."""

    model_config = {"extra": "forbid"}
    back: str = "/"
    last: int = 0


class Overtaken(Exception):
    """Somebody has decided since the page was made. newer: what they decided, oldest first."""

    def __init__(self, newer: list[Decision]) -> None:
        """Hold the newer decisions."""
        super().__init__("decided since")
        self.newer = newer


@dataclass(frozen=True)
class AgainPage:
    """A change that was not made, with all that was typed, to be sent again.

    newer: what was decided meanwhile. fields: name and value of all that the form sent;
    texts are those a person typed at length.
    """

    heading: str
    text: str
    newer: tuple[str, ...]
    action: str
    fields: tuple[tuple[str, str], ...]
    texts: tuple[str, ...]
    button: str
    back: str


@dataclass(frozen=True)
class Change:
    """What a form asks to be written. records: those it is about."""

    kind: str
    records: tuple[str, ...]
    facts: dict[str, Any]


def make_change(request: Request, form: Form, change: Callable[[Site], Change]) -> Response:
    """Write the change unless somebody decided since, and go back to the page it came from."""
    site = site_of(request)
    try:
        wanted = change(site)
        number = write(site, wanted, form.last)
        waits = (
            resolve_again(site.folder) if wanted.kind != "tag" and _works_on_references(site, wanted) else ""
        )
    except Overtaken as overtaken:
        return _again(request, form, overtaken)
    except AntedateError as error:
        return _again(request, form, error)
    return RedirectResponse(going_back(form.back, number, bool(waits)), 303)


def write(site: Site, change: Change, last: int) -> int:
    """Write the change and return its number. Raises Overtaken where it would go over a newer decision.

    The same change sent twice (a second click) is written once.
    """

    def check() -> None:
        newer = [one for one in site.memory.judgements().on(change.records) if one.number > last]
        if newer:
            raise Overtaken(newer)

    try:
        decide(site.folder, change.kind, change.records, change.facts, site.settings.by, check)
    except Overtaken as overtaken:
        if not _is_already(change, overtaken.newer):
            raise
    return site.memory.judgements().on(change.records)[-1].number


def going_back(back: str, number: int, waits: bool) -> str:
    """Return the address to go back to, with the decision made; a foreign one becomes the list."""
    parts = urlsplit(back)
    if (
        parts.scheme
        or parts.netloc
        or not parts.path.startswith("/")
        or "\\" in back
        or not back.isprintable()
    ):
        parts = urlsplit("/")
    asked = [(name, text) for name, text in parse_qsl(parts.query) if name not in ("done", "waits")]
    asked += [("done", str(number)), *([("waits", "1")] if waits else [])]
    anchor = f"#{parts.fragment}" if parts.fragment else ""
    return f"{parts.path}?{urlencode(asked)}{anchor}"


def _is_already(change: Change, newer: list[Decision]) -> bool:
    made = [(one.kind, one.records, one.facts) for one in newer]
    return made == [(change.kind, change.records, _as_read(change.facts))]


def _as_read(facts: dict[str, Any]) -> dict[str, Any]:
    """Return the facts as they come back from the file, where a tuple is a list."""
    return {name: list(value) if isinstance(value, tuple) else value for name, value in facts.items()}


def _works_on_references(site: Site, change: Change) -> bool:
    """Say whether the references must be worked out again; a tag taken back moves none."""
    if change.kind != "undo":
        return True
    undone = change.facts["undoes"]
    return any(one.kind != "tag" for one in site.memory.judgements().decisions if one.number == undone)


def _again(request: Request, form: Form, error: Overtaken | AntedateError) -> Response:
    fields = [(name, str(value)) for name, value in form.model_dump().items() if not isinstance(value, tuple)]
    fields += [(n, text) for n, many in form.model_dump().items() if isinstance(many, tuple) for text in many]
    fields = [(name, local_address(value) if name == "back" else value) for name, value in fields]
    newer: tuple[str, ...] = ()
    heading, text, button, status = "This was not recorded", str(error), "Try again", 500
    if isinstance(error, Overtaken):
        newer, status = tuple(describe(one) for one in error.newer), 409
        heading, button = "Somebody has decided on this since", "Record mine as well: it then stands"
        text = "Your page was older. Nothing of yours is recorded yet; this was decided meanwhile:"
        seen = str(error.newer[-1].number)
        fields = [(name, seen if name == "last" else value) for name, value in fields]
    elif isinstance(error, StoreLocked):
        status = 503
    elif isinstance(error, NotFound):
        status = 404
    page = AgainPage(
        heading,
        text,
        newer,
        request.url.path,
        tuple(fields),
        ("note", "why"),
        button,
        local_address(form.back),
    )
    return site_of(request).page(request, "again.html", page, status)


def local_address(back: str) -> str:
    """Return the address where it is one of ours, else the list's."""
    parts = urlsplit(back)
    ours = not parts.scheme and not parts.netloc and parts.path.startswith("/") and not back.startswith("//")
    return back if ours and "\\" not in back and back.isprintable() else "/"
