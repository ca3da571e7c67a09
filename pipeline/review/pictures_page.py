"""The field as pictures: each with tables that say the same, drawn without scripts, saved as SVG or PNG."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, Literal

import duckdb
from fastapi import APIRouter, Query
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from pipeline.critical_days import cutoffs
from pipeline.decisions import Decisions
from pipeline.errors import NotFound
from pipeline.pictures import drawing, matrix, overlaps, timeline, topic_map
from pipeline.pictures.picture import Look, Picture, Table
from pipeline.ranking import invention_text
from pipeline.review.site import Site, site_of

router = APIRouter()
# A document drawn on its own may load nothing at all.
ALONE = {"Content-Security-Policy": "sandbox; default-src 'none'"}


class Name(StrEnum):
    """The pictures there are, in the order of their menu."""

    TIMELINE = "timeline"
    TOPICS = "topics"
    ELEMENTS = "elements"
    SOURCES = "sources"


TITLES = {
    Name.TIMELINE: timeline.TITLE,
    Name.TOPICS: topic_map.TITLE,
    Name.ELEMENTS: matrix.TITLE,
    Name.SOURCES: overlaps.TITLE,
}
LookName = Literal["light-wide", "light-narrow", "dark-wide", "dark-narrow"]
# ?from=51 begins the element matrix at place 51; the other pictures have no pages.
From = Annotated[int, Query(alias="from", ge=1, le=10_000_000)]


@dataclass(frozen=True)
class PicturePage:
    """What the page of one picture shows.

    says, caution, tables: as the picture's own. drawn: False where there is nothing to draw. path: the
    picture's address. query: what its drawings are asked with, "" or "&from=51". earlier,
    later: addresses of the pages before and after, "" where there is none. others: (address,
    title, whether it is this one) of every picture.
    """

    name: str
    title: str
    says: tuple[str, ...]
    caution: str
    tables: tuple[Table, ...]
    drawn: bool
    path: str
    query: str
    earlier: str
    later: str
    others: tuple[tuple[str, str, bool], ...]


@router.get("/pictures")
def show_first(request: Request) -> Response:
    """Show the first picture."""
    return show_picture(request, Name.TIMELINE)


@router.get("/pictures/live.js")
def give_script(request: Request) -> Response:
    """Give the script that makes a drawing answer to the pointer; the page is whole without it.

    A browser that has it as it now is is told so, and keeps it.
    """
    body = drawing.script().encode()
    mark = f'"{hashlib.sha256(body).hexdigest()}"'
    headers = {"Cache-Control": "private, no-cache", "ETag": mark}
    if request.headers.get("if-none-match") == mark:
        return Response(status_code=304, headers=headers)
    return Response(body, media_type="text/javascript", headers=headers)


@router.get("/pictures/{name}")
def show_picture(request: Request, name: Name, start: From = 1) -> Response:
    """Show the picture with its tables."""
    site = site_of(request)
    with site.store() as con:
        picture = read_picture(site, con, name, start)
    return site.page(request, "picture.html", page_of(name, picture, start))


def page_of(name: Name, picture: Picture, start: int) -> PicturePage:
    """Return what the page shows of the picture."""
    path = f"/pictures/{name}"
    step = matrix.PAGE if name is Name.ELEMENTS else 0
    rows = len(picture.tables[0].rows) if picture.tables else 0
    return PicturePage(
        name=name,
        title=picture.title,
        says=picture.says,
        caution=picture.caution,
        tables=picture.tables,
        drawn=picture.draw is not None,
        path=path,
        query=f"&from={start}" if start > 1 else "",
        earlier=f"{path}?from={max(1, start - step)}" if step and start > 1 else "",
        later=f"{path}?from={start + step}" if step and rows == step else "",
        others=tuple((f"/pictures/{other}", TITLES[other], other is name) for other in Name),
    )


@router.get("/pictures/{name}/drawing.svg")
def give_drawing(request: Request, name: Name, look: LookName, start: From = 1) -> Response:
    """Give the still drawing that stands in the page, without paper of its own."""
    picture = _picture(request, name, start)
    return Response(drawing.svg(picture, _look(look)), media_type="image/svg+xml", headers=ALONE)


@router.get("/pictures/{name}/drawing.json")
def give_specification(request: Request, name: Name, look: LookName, start: From = 1) -> Response:
    """Give what the page's script draws from."""
    picture = _picture(request, name, start)
    return JSONResponse(drawing.specification(picture, _look(look, live=True)))


@router.get("/pictures/{name}/save.svg")
def save_svg(request: Request, name: Name, start: From = 1) -> Response:
    """Give the drawing as an SVG file with its heading, to be saved."""
    picture = _picture(request, name, start)
    body = drawing.svg(picture, Look(), _heading(site_of(request), picture))
    return Response(body, media_type="image/svg+xml", headers=ALONE | _saved(f"{name}.svg"))


@router.get("/pictures/{name}/save.png")
def save_png(request: Request, name: Name, start: From = 1) -> Response:
    """Give the drawing as a PNG file with its heading, to be saved."""
    picture = _picture(request, name, start)
    body = drawing.png(picture, Look(), _heading(site_of(request), picture))
    return Response(body, media_type="image/png", headers=ALONE | _saved(f"{name}.png"))


def _look(name: LookName, live: bool = False) -> Look:
    return Look(name.startswith("dark"), name.endswith("narrow"), live)


def _saved(file_name: str) -> dict[str, str]:
    return {"Content-Disposition": f'attachment; filename="{file_name}"'}


def _heading(site: Site, picture: Picture) -> str:
    return f"{picture.title}, {site.today.isoformat()}: {site.matter().title}"


def _picture(request: Request, name: Name, start: int) -> Picture:
    site = site_of(request)
    with site.store() as con:
        picture = read_picture(site, con, name, start)
    if picture.draw is None:
        raise NotFound(f"{picture.title}: {' '.join(picture.says)}")
    return picture


def read_picture(site: Site, con: duckdb.DuckDBPyConnection, name: Name, start: int) -> Picture:
    """Return the picture of that name, as the store and the decisions now stand."""
    readers: dict[Name, Callable[[], Picture]] = {
        Name.TIMELINE: lambda: timeline.timeline_picture(
            timeline.read_timeline(con, Decisions(site.folder).standing(), cutoffs(site.matter(), site.today))
        ),
        Name.TOPICS: lambda: topic_map.topic_picture(topic_map.read_map(con, invention_text(site.matter()))),
        Name.ELEMENTS: lambda: matrix.matrix_picture(
            matrix.read_matrix(con, Decisions(site.folder).standing(), site.matter().elements, start - 1)
        ),
        Name.SOURCES: lambda: overlaps.overlap_picture(overlaps.read_holdings(con)),
    }
    return readers[name]()
