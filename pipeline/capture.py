"""Pages and pictures the user points at: fetched, kept as evidence, held against the web archive."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import closing
from dataclasses import asdict, dataclass, field
from datetime import UTC
from pathlib import Path

from connectors import web, web_archive
from connectors.connector import Page, Request
from connectors.errors import InnerAddress, SourceError, SourceRefused
from connectors.fetch import fetch
from connectors.page_markup import PictureLink
from connectors.page_reader import Reading
from connectors.picture_file import is_picture
from connectors.session import SECRET_HEADERS, Session
from connectors.waiting import Clock, Limits
from connectors.web_addresses import Address, Guard, Lookup, take_apart
from connectors.web_fetch import Fetched, WebDoor
from pipeline.append_log import write_file
from pipeline.archive_questions import original, questions
from pipeline.errors import BadAddress, BadMatter
from pipeline.evidence import evidence_name
from pipeline.harvest import NUMBERS, WORTH_TELLING_S, Desk, write_end
from pipeline.journal import read_journal
from pipeline.matter import Matter, load_matter
from pipeline.night import Night
from pipeline.responses import Responses
from pipeline.run import run_outcome
from pipeline.run_lock import run_lock
from pipeline.warc import warc_file

PICTURES = 8  # of one page, unless the user says otherwise
# After a second 429 the archive is left alone: it blocks who asks on.
ARCHIVE_LIMITS = Limits(size_bytes=25_000_000, attempts=2)
NOT_ASKED = "not asked, by choice (--no-archive)"
INNER = "not asked: the address leads inside, and such addresses are told to nobody"
NAMED = "not asked: matter.toml names this host as lying inside, so its addresses are told to nobody"


@dataclass(frozen=True)
class Wanted:
    """What to capture. pictures: how many of each page. archive: ask the web archive too."""

    addresses: tuple[Address, ...]
    pictures: int = PICTURES
    archive: bool = True


@dataclass
class Captured:
    """One address as it went. reading: None where it could not be fetched, and reason says why.

    pictures: how many were kept; left_out: how many more the page shows. archived: the
    address of each copy the archive holds -> when it was captured and how it compares.
    """

    address: str
    outcome: str = "failed"
    reason: str = ""
    evidence: str = ""
    size: int = 0
    reading: Reading | None = None
    pictures: int = 0
    left_out: int = 0
    archive_outcome: str = ""
    archive_reason: str = ""
    archived: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class CaptureEnd:
    """How a capture ended."""

    run_id: str
    outcome: str
    captured: tuple[Captured, ...]


def check_addresses(written: Iterable[tuple[str, str]]) -> tuple[Address, ...]:
    """Return the addresses taken apart, each once; nothing is sent or looked up.

    written: (where it was written, address). Raises BadAddress for the first that is none.
    """
    found: dict[str, Address] = {}
    for where, text in written:
        try:
            address = take_apart(text)
        except SourceError as error:
            raise BadAddress(f"{where}: {error.what}. Nothing was fetched.") from error
        found.setdefault(address.url, address)
    return tuple(found.values())


def archive_setting(matter: Matter, wanted: Wanted) -> str:
    """Return why the archive is not asked at all, else ""."""
    if not wanted.archive:
        return NOT_ASKED
    return "" if matter.sources[web_archive.SOURCE.name].on else "switched off in matter.toml"


def capture(folder: Path, wanted: Wanted, say: Callable[[str], None]) -> CaptureEnd:
    """Capture the addresses into the matter, under its run lock; then bring its references up to date.

    One that fails stops no other; each is a line of the search log. Raises BadMatter,
    RunInProgress, DiskFull …: what was kept before stays.
    """

    def told_of_wait(wait_s: float, why: str) -> None:
        if wait_s >= WORTH_TELLING_S:
            say(f"waiting {wait_s:.0f} s: {why}")

    matter, clock = load_matter(folder), Clock(on_wait=told_of_wait)
    if not matter.sources[web.SOURCE.name].on:
        raise BadMatter(
            f"{folder / 'matter.toml'}: capturing is switched off there ([source.web] on = false)"
        )
    with run_lock(folder):
        responses, now = Responses(folder), clock.today()
        desk = Desk(responses, read_journal(responses, now), f"{now:%Y-%m-%dT%H:%M:%SZ}", clock.today, say)
        end = capture_into(desk, matter, wanted, clock)
        night = Night(matter, (), desk, say)
        night.load()
        night.derive()
    return end


def capture_into(
    desk: Desk, matter: Matter, wanted: Wanted, clock: Clock, lookup: Lookup | None = None
) -> CaptureEnd:
    """Fetch the addresses and ask the archive; keep all that comes as responses and evidence.

    The run's start, its sweeps' ends and its end go into the journal. clock, lookup: time and
    the name resolver (the system's where None).
    """
    desk.write("run started", does="capture")
    with closing(_Capturing(matter, wanted, desk, clock, lookup)) as capturing:
        captured = tuple(capturing.capture(address) for address in wanted.addresses)
        outcome = run_outcome(capturing.outcomes)
    desk.write("run ended", outcome=outcome, does="capture")
    return CaptureEnd(desk.run_id, outcome, captured)


class _Capturing:
    """One run of captures: the door to the web, the session with the archive, the matter's desk."""

    def __init__(
        self, matter: Matter, wanted: Wanted, desk: Desk, clock: Clock, lookup: Lookup | None
    ) -> None:
        settings = matter.sources
        self.wanted, self.desk = wanted, desk
        self.folder = matter.folder
        guard = Guard(frozenset(matter.capture_hosts), lookup)
        self.door = WebDoor(guard, settings[web.SOURCE.name].contact, clock)
        setting = settings[web_archive.SOURCE.name]
        self.session = Session(web_archive, setting.base_url, setting.contact, {}, clock, ARCHIVE_LIMITS)
        self.no_archive = archive_setting(matter, wanted)
        self.outcomes: list[str] = []

    def close(self) -> None:
        """Close the connection to the archive."""
        self.session.close()

    def capture(self, address: Address) -> Captured:
        """Fetch the page and its pictures, keep them, ask the archive; write both ends to the journal."""
        told, not_asked = (
            Captured(address.url),
            NAMED if self.door.guard.is_named(address) else self.no_archive,
        )
        kept: list[_Kept] = []
        problems: list[str] = []
        try:
            fetched = self.door.fetch(address.url)
            kept.append(self._keep(fetched, {}))
            told.reading, told.evidence, told.size = kept[0].reading, kept[0].evidence, len(fetched.last.body)
            kept += self._pictures(fetched.last.address, kept[0], told, problems)
        except SourceError as error:
            problems.append(error.what)
            not_asked = INNER if isinstance(error, InnerAddress) else not_asked
        told.outcome = "failed" if not kept else "incomplete" if problems else "complete"
        told.reason = "; ".join(problems)
        self._end_page(told, kept)
        gone = [web_archive.earliest_request(original(address.url), {})]
        asked = [each for one in kept for each in one.questions] or gone
        # A page can call an inner address its own: nobody is told of those.
        asked = [
            each for each in asked if not self.door.guard.is_named(take_apart(dict(each.state)["address"]))
        ]
        self._archive(told, asked, not_asked)
        return told

    def _pictures(self, page: Address, parent: _Kept, told: Captured, problems: list[str]) -> Iterator[_Kept]:
        """Fetch the page's pictures and yield them kept; what went wrong is added to problems."""
        links = parent.reading.pictures
        told.left_out = max(0, len(links) - self.wanted.pictures)
        for link in links[: self.wanted.pictures]:
            try:
                fetched = self.door.fetch(link.url, page)
                if not is_picture(fetched.last.body):
                    raise SourceRefused(web.SOURCE.name, f"{link.url} is no picture of a kind that is read")
            except SourceError as error:
                problems.append(f"a picture: {error.what}")
                continue
            told.pictures += 1
            yield self._keep(fetched, {"page": told.address, **_around(link)})

    def _keep(self, fetched: Fetched, around: dict[str, str]) -> _Kept:
        """Keep what came as evidence and as a response; return what was read of it."""
        asked, last = fetched.hops[0].address.url, fetched.last
        data = warc_file(fetched, f"captured for the user, who pointed at {around.get('page') or asked}")
        name = evidence_name(last.at, data)
        write_file(self.folder / name, data)
        facts = {
            "final": last.address.url,
            "at": last.at.astimezone(UTC).isoformat(timespec="seconds"),
            "evidence": name,
            "redirects": "; ".join(f"{hop.status} at {hop.address.url}" for hop in fetched.hops[:-1]),
            **around,
        }
        headers = {key.lower(): value for key, value in last.headers}
        kept = {key: value for key, value in headers.items() if key not in SECRET_HEADERS}
        page = Page(web.capture_request(asked, facts), last.status, kept, last.body, self.desk.today)
        self.desk.responses.keep(page, self.desk.run_id, around.get("page") or asked, self.desk.clock())
        self.desk.say(f"{asked}: {len(last.body):,} bytes kept")
        reading = web.read_capture(page)
        return _Kept(reading, name, questions(page, reading))

    def _end_page(self, told: Captured, kept: list[_Kept]) -> None:
        unread = sum(len(one.reading.unread) for one in kept)
        write_end(
            self.desk, web.SOURCE.name, told.address, f"captured: {told.address}",
            outcome=told.outcome, reason=told.reason, requests=len(kept), items=len(kept) + unread,
            records=len(kept), quarantined=unread,
        )  # fmt: skip
        self.outcomes.append(told.outcome)

    def _archive(self, told: Captured, questions: list[Request], not_asked: str) -> None:
        """Ask the archive the questions and keep its answers; after a refusal ask it no more."""
        name, expression = web_archive.SOURCE.name, f"earliest captures: {told.address}"
        if not_asked:
            told.archive_outcome, told.archive_reason = "skipped", not_asked
            write_end(self.desk, name, told.address, expression, outcome="skipped", reason=not_asked)
            self.outcomes.append("skipped")
            return
        waited = self.session.waited_s
        result = fetch(
            web_archive,
            self.session.send,
            questions,
            keep=lambda page: self._keep_archived(page, told),
            recall=lambda _: None,
            today=self.desk.today,
            progress=lambda now: self.desk.say(f"{name}: {now.pages} answered, {now.waiting} to ask"),
        )
        told.archive_outcome, told.archive_reason = result.outcome, result.reason
        facts = {key: value for key, value in asdict(result).items() if key in NUMBERS}
        facts["waited_s"] = round(self.session.waited_s - waited, 1)
        write_end(
            self.desk, name, told.address, expression, outcome=result.outcome, reason=result.reason, **facts
        )
        self.outcomes.append(result.outcome)
        if result.error is not None:
            self.no_archive = f"not asked, since an earlier look-up failed: {result.error.what}"

    def _keep_archived(self, page: Page, told: Captured) -> None:
        self.desk.responses.keep(page, self.desk.run_id, told.address, self.desk.clock())
        for record in web_archive.parse(page).records:
            said = dict(record.details)
            told.archived[record.url] = f"{record.version}, {said['archived copy']}"


@dataclass(frozen=True)
class _Kept:
    """A capture that is kept: what was read of it, its evidence file, what to ask the archive."""

    reading: Reading
    evidence: str
    questions: tuple[Request, ...]


def _around(link: PictureLink) -> dict[str, str]:
    return {"where": link.where, "alt": link.alt, "title": link.title, "caption": link.caption}
