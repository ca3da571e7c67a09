"""The one door for errors: our own in the words of the command line, with the right status."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from pipeline.errors import AntedateError, NotFound, NothingSearched, StoreLocked
from pipeline.review.site import site_of


@dataclass(frozen=True)
class ErrorPage:
    """What went wrong. text: what, where, what was kept, what to do."""

    heading: str
    text: str


@dataclass(frozen=True)
class FirstPage:
    """What to do where no run was made yet. folder: the matter's, as a command takes it."""

    folder: str


def our_error(request: Request, error: Exception) -> Response:
    """Return the page for an error the user can act on."""
    if isinstance(error, NothingSearched):
        site = site_of(request)
        return site.page(request, "first.html", FirstPage(str(site.folder)))
    if isinstance(error, StoreLocked):
        return _page(request, "Another program is at work here", str(error), 503)
    if isinstance(error, NotFound):
        return _page(request, "Not found", str(error), 404)
    return _page(request, "This did not work", str(error), 500)


def no_such_page(request: Request, error: Exception) -> Response:
    """Return the page for an address that is none of ours."""
    status = error.status_code if isinstance(error, HTTPException) else 500
    text = "There is no such page here." if status == 404 else f"This can't be answered ({status})."
    return _page(request, "Not found", text, status)


def bad_request(request: Request, error: Exception) -> Response:
    """Return the page for a form or address that is not whole."""
    wrong = error.errors() if isinstance(error, RequestValidationError) else ()
    parts = ", ".join(f"{'.'.join(map(str, one['loc'][1:]))}: {one['msg']}" for one in wrong)
    return _page(request, "Not understood", f"{parts}. Nothing was changed.", 400)


def own_fault(request: Request, _: Exception) -> Response:
    """Return the page for a fault of the program; the server writes its traceback to the terminal."""
    text = "The program failed here; the terminal says where. Nothing acknowledged before is lost."
    return _page(request, "A fault of the program", text, 500)


def _page(request: Request, heading: str, text: str, status: int) -> Response:
    return site_of(request).page(request, "error.html", ErrorPage(heading, text), status)


Door = Callable[[Request, Exception], Response]
DOORS: tuple[tuple[type[Exception], Door], ...] = (
    (AntedateError, our_error),
    (HTTPException, no_such_page),
    (RequestValidationError, bad_request),
    (Exception, own_fault),
)
