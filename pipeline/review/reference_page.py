"""One reference whole: since when, how sure, how close and where it says so, and what was decided."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from urllib.parse import urlencode

import duckdb
from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from pipeline import cautions
from pipeline.deciding import decided
from pipeline.decisions import CATEGORIES, TAGS
from pipeline.errors import NotFound
from pipeline.in_force import HeldFamily, families_in
from pipeline.judging import Judged, Judging, cautions_of
from pipeline.law.family import WORDS, CountryRow
from pipeline.listing import Chased, find_reference, read_chased
from pipeline.matter import Matter
from pipeline.review.changes import local_address
from pipeline.review.reference_parts import HandDate, Made, ShownText, drawn, hand_dates, made, shown_texts
from pipeline.review.rows import Row, read_rows
from pipeline.review.site import Site, site_of
from pipeline.review.timeline import TimeLine
from pipeline.review.walk import Walk, walk_from
from pipeline.showing import Related, ShownRecord, ShownVersion, read_related, read_versions_whole

router = APIRouter()
CAUTIONS = (
    cautions.ESTIMATE,
    cautions.RULES,
    cautions.UNDECIDED,
    cautions.DATE_EVIDENCE,
    cautions.ONE_VERSION,
    cautions.MACHINE_TEXT,
    cautions.DUTY,
)


@dataclass(frozen=True)
class ReferencePage:
    """All that the page shows.

    row: as in the list. back: the list it was opened from; walk: its place there. here: this
    page's own address. versions: in the order first seen; texts: of the record whose text is
    read. chased: along whose citations the chase came to it. sentence, countries: where its
    patents are probably in force; "" for no patent. last: the last decision made, which a
    change must name to be taken.
    """

    row: Row
    back: str
    walk: Walk
    here: str
    verdicts: tuple[Judged, ...]
    basis: str
    if_filed_on: str
    versions: tuple[ShownVersion, ...]
    first_record: str
    main: ShownRecord
    texts: tuple[ShownText, ...]
    line: TimeLine | None
    hand_dates: tuple[HandDate, ...]
    related: tuple[Related, ...]
    chased: tuple[Chased, ...]
    sentence: str
    countries: tuple[CountryRow, ...]
    country_words: Mapping[str, str]
    force_cautions: tuple[str, ...]
    made: tuple[Made, ...]
    elements: Mapping[str, str]
    categories: tuple[str, ...]
    tags: tuple[str, ...]
    last: int
    done: str
    done_number: int
    waits: bool
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class _Held:
    """What the store holds of the reference, read in one go. main: the record whose text is read."""

    versions: tuple[ShownVersion, ...]
    main: ShownRecord
    related: tuple[Related, ...]
    chased: tuple[Chased, ...]
    verdicts: tuple[Judged, ...]
    family: HeldFamily | None


@router.get("/reference/{name}")
def show_reference(request: Request, name: str) -> Response:
    """Show the reference; another name of it (a record, a number) leads to its page."""
    site = site_of(request)
    if name not in site.memory.catalogue().members_of([name]):
        return RedirectResponse(f"/reference/{find_reference(site.folder, name)}", 303)
    return site.page(request, "reference.html", _page(site, name, request))


def _page(site: Site, name: str, request: Request) -> ReferencePage:
    matter, asked = site.matter(), request.query_params
    catalogue, judgements = site.memory.catalogue(), site.memory.judgements()
    judging = _judging(site, matter, asked.get("if_filed_on", ""))
    with site.store() as con:
        held = _read(con, name, judging)
    found = catalogue.rows("SELECT * EXCLUDE (text) FROM listed WHERE reference_id = ?", [name])
    row = read_rows(site, catalogue, site.memory.judging(matter, site.today), judgements, found)[0]
    records = [record for version in held.versions for record in version.records]
    names = [record.record_id for record in records]
    hand = hand_dates(judgements, names)
    sentence, countries = _in_force(held.family, matter.countries_of_sale, site.today)
    done = next((one for one in judgements.decisions if str(one.number) == asked.get("done")), None)
    walk = walk_from(site, matter, name, local_address(asked.get("from", "/")))
    return ReferencePage(
        row=row,
        back=f"{walk.back}#r-{name}",
        walk=walk,
        here=f"{request.url.path}?{urlencode({'from': walk.back})}",
        verdicts=held.verdicts,
        basis=judging.basis,
        if_filed_on=asked.get("if_filed_on", ""),
        versions=held.versions,
        first_record=records[0].record_id,
        main=held.main,
        texts=shown_texts(held.main, row),
        line=drawn(held.versions, hand, held.verdicts, site.today),
        hand_dates=hand,
        related=held.related,
        chased=held.chased,
        sentence=sentence,
        countries=countries,
        country_words=WORDS,
        force_cautions=(cautions.CLEARANCE, cautions.KNOWLEDGE),
        made=made(judgements, names),
        elements=matter.elements,
        categories=CATEGORIES,
        tags=TAGS,
        last=judgements.last,
        done=decided(done) if done else "",
        done_number=done.number if done else 0,
        waits=asked.get("waits") == "1",
        cautions=(*CAUTIONS, *cautions_of(held.verdicts)),
    )


def _read(con: duckdb.DuckDBPyConnection, name: str, judging: Judging) -> _Held:
    versions = read_versions_whole(con, name)
    main = con.execute("SELECT main_record FROM reference WHERE reference_id = ?", [name]).fetchall()
    if not versions or not main:
        raise NotFound(f"{name} is not among the references any more; it may have become part of another one")
    records = [record for version in versions for record in version.records]
    # Only patents have a number of publication, and the question is a costly one.
    patent = any(scheme == "publication" for record in records for scheme, *_ in record.identifiers)
    return _Held(
        versions,
        next(record for record in records if record.record_id == main[0][0]),
        read_related(con, name),
        tuple(read_chased(con).get(name, ())),
        judging.judge_in(con, [name]).get(name, ()),
        families_in(con, [name]).get(name) if patent else None,
    )


def _judging(site: Site, matter: Matter, if_filed_on: str) -> Judging:
    """Return how to judge: as the matter stands, or as if filed on a day to come."""
    if not if_filed_on:
        return site.memory.judging(matter, site.today)
    try:
        day = date.fromisoformat(if_filed_on)
    except ValueError:
        raise NotFound(f"if_filed_on {if_filed_on!r} is no day; write 2027-02-01") from None
    if day < site.today:
        raise NotFound(f"{day} is past; a filing already made belongs in matter.toml")
    return Judging(matter, site.today, day)


def _in_force(
    held: HeldFamily | None, countries: tuple[str, ...], today: date
) -> tuple[str, tuple[CountryRow, ...]]:
    """Return where its patents are probably in force: a sentence, and by country; "" without patents."""
    if held is None:
        return "", ()
    if not countries:
        return "No country is named: list countries_of_sale in matter.toml, such as US, DE.", ()
    family = held.in_force(countries, today)
    return family.sentence, family.rows
