"""The contract between a source and the rest of the program.

A connector is a module with SOURCE and pure functions: compile, sign, judge, pause, follow,
parse. The one loop in fetch.py sends, waits, retries, stores and counts; no connector does I/O.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Protocol

from connectors.errors import SourceError
from connectors.record import Record
from queries.expression import Expression
from queries.window import ALL_DAYS, Window


@dataclass(frozen=True)
class Source:
    """What a source is and allows. Limits are the service's own, not ours.

    key_variables: environment variables that must all be set, or () where no key is
    needed. optional_key_variables: used when set. token_path: where the two keys are
    changed for a bearer token (OAuth client credentials), else "". depth: the deepest record reachable
    for one query; None is no limit. narrows: where more match than that, the connector asks again in
    halves of the window. ranked_depth: set where the service only ranks and
    never filters, so that reading to the end means nothing: the best that many are read
    by design. date_filter, added_filter: can filter by public date, by date added.
    dates_stated: kind of dated event -> what it proves, in a sentence. off_because: why the
    source is off until the user turns it on in matter.toml, else "". local: answered
    from files on this machine; nothing is sent. look_up_again_days: a look-up (of a family …)
    answered within so many days is not sent again; 0 sends each.
    """

    name: str
    title: str
    kinds: tuple[str, ...]
    base_url: str
    page_size: int
    depth: int | None
    seconds_between: float
    terms_of_use: str
    manual: str
    manual_read: date
    dates_stated: Mapping[str, str]
    key_variables: tuple[str, ...] = ()
    optional_key_variables: tuple[str, ...] = ()
    how_to_get_a_key: str = ""
    narrows: bool = False
    ranked_depth: int | None = None
    date_filter: bool = False
    added_filter: bool = False
    contact_wanted: bool = False
    token_path: str = ""
    off_because: str = ""
    local: bool = False
    look_up_again_days: int = 0


@dataclass(frozen=True)
class Request:
    """One request, complete but for secrets and contact, which the session adds.

    path: joined to the base URL. params: in order. window: the part of the sweep's
    window it covers. step: 'search', 'numbers' for what find asks, or the
    connector's own word for a look-up.
    state: what the connector needs to go on from the answer (page number, count so far),
    as text pairs; it is stored with the response, so that a run can resume.
    """

    source: str
    path: str
    params: tuple[tuple[str, str], ...] = ()
    method: str = "GET"
    headers: tuple[tuple[str, str], ...] = ()
    body: str = ""
    window: Window = ALL_DAYS
    step: str = "search"
    state: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Signed:
    """What the session adds to a request when sending. Never stored, never logged."""

    headers: tuple[tuple[str, str], ...] = ()
    params: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Page:
    """One answer as received. headers: names in lower case, secrets removed."""

    request: Request
    status: int
    headers: Mapping[str, str]
    body: bytes
    received_on: date


@dataclass(frozen=True)
class Quarantined:
    """An item that could not be read. index: its place on the page. path: where in the
    answer. excerpt: at most 500 characters of it."""

    index: int
    path: str
    reason: str
    excerpt: str


@dataclass(frozen=True)
class Parsed:
    """What a page holds: items == len(records) + len(quarantined), always.

    stated_total: how many the source says match; None where it does not say.
    total_is_floor: True where the number means 'that many or more'.
    partial: why the source itself says this answer is not whole, else "".
    matched: how many of the stated total the page holds, where that is not items: one file
    wrapper tells of two publications. None is items.
    """

    items: int
    records: tuple[Record, ...]
    quarantined: tuple[Quarantined, ...] = ()
    stated_total: int | None = None
    total_is_floor: bool = False
    partial: str = ""
    matched: int | None = None


@dataclass(frozen=True)
class Compiled:
    """What would be sent for one sweep. The union of the requests means the expression.

    not_expressed: what the source cannot say, each a sentence; those parts are checked
    here after the answer comes (loosened) or the sweep is not sent at all (requests
    empty). splits: a sentence for each place where the expression was cut to fit.
    """

    requests: tuple[Request, ...]
    not_expressed: tuple[str, ...] = ()
    splits: tuple[str, ...] = field(default=())


@dataclass(frozen=True)
class Sought:
    """A number to be asked for. text: its normal form under the scheme.

    epodoc, docdb: a patent publication as the EPO writes it (`US20150123456`,
    `US.2015123456.A1`); docdb "" where the kind is not known, both "" for other schemes.
    """

    scheme: str
    text: str
    epodoc: str = ""
    docdb: str = ""


class ByNumber(Protocol):
    """A source that can be asked by documents' numbers. Numbers of schemes the source does
    not know are left out, and nothing is sent where none is left."""

    SOURCE: Source

    def find(self, numbers: Sequence[Sought]) -> Compiled:
        """Return requests for the records of the documents with these numbers."""

    def cited(self, numbers: Sequence[Sought]) -> Compiled:
        """Return searches for what these documents cite; nothing where their records tell it, or
        the source can't."""

    def citing(self, numbers: Sequence[Sought]) -> Compiled:
        """Return searches for what cites any of these documents; nothing where the source can't tell."""


class Reader(Protocol):
    """A module that reads one source's answers."""

    SOURCE: Source

    def judge(self, page: Page) -> SourceError | None:
        """Return None where the answer can be parsed, 'no results' included, else what is wrong.

        SourceBusy carries retry_after_s where the source says it; TokenExpired asks the
        session for a new token, once.
        """

    def parse(self, page: Page) -> Parsed:
        """Return the page's records and quarantined items, from its bytes alone.

        Raises SourceChanged, with the path, where the page as a whole is not what the
        manual describes.
        """


class Connector(Reader, Protocol):
    """A module that speaks for one source: it also says what to send, and what next."""

    def compile(self, expression: Expression, window: Window) -> Compiled:
        """Return exactly what will be sent; never changes its input."""

    def sign(self, request: Request, keys: Mapping[str, str], contact: str) -> Signed:
        """Return the secret headers and parameters to add when sending, nothing else.

        keys: the declared variables that are set (and "token" where token_path is declared).
        """

    def pause(self, page: Page) -> float:
        """Return the seconds the source's headers ask for before the next request; 0 for none."""

    def follow(self, request: Request, page: Page, today: date) -> list[Request]:
        """Return what this answer asks to be sent next; empty means done.

        Next page, detail look-ups, or the halves of the window when the depth limit
        would hide the rest. Raises SourceChanged where the answer can't be read.
        """
