"""What every page stands on: the matter, the store opened per request, the frame round the page."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, datetime
from importlib.resources import files
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import duckdb
import jinja2
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse

from pipeline import cautions
from pipeline.errors import AntedateError, NothingSearched
from pipeline.matter import Matter, load_matter
from pipeline.plain_text import public_text, safe, without_marks
from pipeline.review.memory import SHORT_WAIT_S, Memory
from pipeline.review.troubles import Trouble, read_troubles
from pipeline.store import open_store, store_state

# Path and words of the pages in the menu, in order.
NAV = (
    ("/", "Hits"),
    ("/pictures", "Pictures"),
    ("/log", "Search log"),
    ("/plan", "Plan"),
    ("/help", "Help"),
)


@dataclass(frozen=True)
class Settings:
    """What the web needs to know.

    by: who decides here, "" for this machine's user. wait_s: how long a page waits for a
    store that another program holds.
    """

    folder: Path
    port: int
    now: Callable[[], datetime]
    by: str = ""
    wait_s: float = 3.0


@dataclass(frozen=True)
class Frame:
    """What stands round every page.

    title: the matter's. path: the page's own. troubles: sweeps that have not been answered
    in full, None where the store was locked and none were ever read.
    """

    title: str
    nav: tuple[tuple[str, str], ...]
    path: str
    troubles: tuple[Trouble, ...] | None


@dataclass
class Site:
    """One matter's web: settings, templates, and what is remembered between requests."""

    settings: Settings
    templates: jinja2.Environment = field(default_factory=lambda: environment())
    memory: Memory = field(init=False)
    _troubles: tuple[Trouble, ...] | None = None
    _read_at: tuple[int, ...] | None = None

    def __post_init__(self) -> None:
        """Begin with nothing remembered."""
        self.memory = Memory(self.settings.folder, self.settings.wait_s, self.store)

    @property
    def folder(self) -> Path:
        """Return the matter's folder."""
        return self.settings.folder

    @property
    def today(self) -> date:
        """Return the day of asking."""
        return self.settings.now().date()

    def matter(self) -> Matter:
        """Return the matter as matter.toml now says. Raises BadMatter."""
        return load_matter(self.folder)

    @contextmanager
    def store(self, wait_s: float | None = None) -> Iterator[duckdb.DuckDBPyConnection]:
        """Open the store to read, for one request. Raises NothingSearched, StoreLocked."""
        state = store_state(self.folder)
        wait_s = self.settings.wait_s if wait_s is None else wait_s
        with open_store(self.folder, read_only=True, wait_s=wait_s) as con:
            if state != self._read_at:
                self._troubles, self._read_at = read_troubles(con), state
            yield con

    def page(self, request: Request, template: str, page: object = None, status: int = 200) -> HTMLResponse:
        """Return the template drawn in the frame; it may show what the dataclass `page` holds."""
        text = self.templates.get_template(template).render(frame=self._frame(request), page=page)
        return HTMLResponse(text, status)

    def _frame(self, request: Request) -> Frame:
        try:
            title = self.matter().title
        except AntedateError:  # the page itself says so, if it needs the matter
            title = self.folder.name
        return Frame(title, NAV, request.url.path, self._known_troubles())

    def _known_troubles(self) -> tuple[Trouble, ...] | None:
        """Return the troubles as the store now says, or the last ones known while it is locked."""
        if store_state(self.folder) != self._read_at:
            try:
                with self.store(SHORT_WAIT_S):
                    pass
            except NothingSearched:
                return ()
            except AntedateError:
                return self._troubles
        return self._troubles


def site_of(request: Request) -> Site:
    """Return the site that the request was made to."""
    site: Site = request.app.state.site
    return site


def environment() -> jinja2.Environment:
    """Return the templates: every value is escaped, and cleared of control and direction marks."""
    loader = jinja2.FileSystemLoader(str(files("pipeline").joinpath("review/templates")))
    made = jinja2.Environment(
        loader=loader,
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_clean,
    )
    made.filters |= {
        "cut": safe,
        "public": public_text,
        "when": _when,
        "counted": lambda found: [(name, f"{name} ({count:,})") for name, count in found],
        "run_words": lambda runs: [(run, f"{run}, {outcome}") for run, outcome in runs],
        "is_web": lambda url: urlsplit(url).scheme in ("http", "https"),
        "before_anchor": lambda address: address.split("#")[0],
        "rule_origin": lambda verdict: cautions.written_down(verdict.rule_checked, verdict.rule_source),
        "paired": lambda letters: [(letter, letter) for letter in letters],
    }
    return made


def _clean(value: Any) -> Any:
    return value if isinstance(value, Markup) or not isinstance(value, str) else without_marks(value)


def _when(moment: datetime | None) -> str:
    return f"{moment:%Y-%m-%d %H:%M} UTC" if moment else "not known"
