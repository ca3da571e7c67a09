"""The web application of one matter."""

from __future__ import annotations

from importlib.resources import files

from fastapi import FastAPI
from starlette.staticfiles import StaticFiles

from pipeline.review import (
    answer_page,
    help_page,
    hits_page,
    judging_forms,
    log_page,
    pictures_page,
    plan_page,
    reference_page,
)
from pipeline.review.door import DOORS
from pipeline.review.guards import Guard
from pipeline.review.site import Settings, Site

PAGES = (
    hits_page,
    reference_page,
    judging_forms,
    answer_page,
    pictures_page,
    log_page,
    plan_page,
    help_page,
)


def create_app(settings: Settings) -> FastAPI:
    """Return the application that shows the matter in settings.folder."""
    # Their own documentation pages load scripts from outside.
    app = FastAPI(docs_url=None, redoc_url=None, openapi_url=None)
    for error, door in DOORS:
        app.add_exception_handler(error, door)
    app.state.site = Site(settings)
    app.add_middleware(Guard, port=settings.port)
    app.mount("/static", StaticFiles(directory=str(files("pipeline").joinpath("review/static"))), "static")
    for page in PAGES:
        app.include_router(page.router)
    return app
