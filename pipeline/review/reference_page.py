"""One reference whole: since when, how sure, how close and where it says so, and what was decided."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from urllib.parse import urlencode

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from pipeline import cautions
from pipeline.deciding import decided
from pipeline.decisions import CATEGORIES, TAGS
from pipeline.errors import NotFound
from pipeline.in_force import read_families
from pipeline.judging import Judged, Judging, cautions_of
from pipeline.law.family import WORDS, CountryRow
from pipeline.listing import Chased, find_reference, read_chased
from pipeline.matter import Matter
from pipeline.review.changes import local_address
from pipeline.review.reference_parts import HandDate, Made, ShownText, drawn, hand_dates, made, shown_texts
from pipeline.review.rows import Row, read_rows
from pipeline.review.site import Site, site_of
from pipeline.review.timeline import TimeLine
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

    row: as in the list. back: the list it was opened from. here: this page's own address.
    versions: in the order first seen; texts: of the record whose text is read. chased: along
    whose citations the chase came to it. sentence, countries: where its patents are probably
    in force; "" for no patent. last: the last decision made, which a change must name to be taken.
    """

    row: Row
    back: str
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
        versions, related = read_versions_whole(con, name), read_related(con, name)
        chased = tuple(read_chased(con).get(name, ()))
        main_record = con.execute(
            "SELECT main_record FROM reference WHERE reference_id = ?", [name]
        ).fetchall()
    if not versions or not main_record:
        raise NotFound(f"{name} is not among the references any more; it may have become part of another one")
    found = catalogue.rows("SELECT * EXCLUDE (text) FROM listed WHERE reference_id = ?", [name])
    row = read_rows(site, catalogue, site.memory.judging(matter, site.today), judgements, found)[0]
    verdicts = judging.judge(site.folder, [name]).get(name, ())
    records = [record for version in versions for record in version.records]
    main = next(record for record in records if record.record_id == main_record[0][0])
    names = [record.record_id for record in records]
    hand = hand_dates(judgements, names)
    sentence, countries = _in_force(site, name, matter.countries_of_sale)
    done = next((one for one in judgements.decisions if str(one.number) == asked.get("done")), None)
    back = local_address(asked.get("from", "/"))
    return ReferencePage(
        row=row,
        back=f"{back}#r-{name}",
        here=f"{request.url.path}?{urlencode({'from': back})}" if back != "/" else request.url.path,
        verdicts=verdicts,
        basis=judging.basis,
        if_filed_on=asked.get("if_filed_on", ""),
        versions=versions,
        first_record=records[0].record_id,
        main=main,
        texts=shown_texts(main, row),
        line=drawn(versions, hand, verdicts, site.today),
        hand_dates=hand,
        related=related,
        chased=chased,
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
        cautions=(*CAUTIONS, *cautions_of(verdicts)),
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


def _in_force(site: Site, name: str, countries: tuple[str, ...]) -> tuple[str, tuple[CountryRow, ...]]:
    """Return where its patents are probably in force: a sentence, and by country; "" without patents."""
    held = read_families(site.folder, [name]).get(name)
    if held is None:
        return "", ()
    if not countries:
        return "No country is named: list countries_of_sale in matter.toml, such as US, DE.", ()
    family = held.in_force(countries, site.today)
    return family.sentence, family.rows
