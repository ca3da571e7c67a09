"""The forms of list and reference page: judge, take back, rule, enter a date."""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import APIRouter
from fastapi import Form as Sent
from starlette.requests import Request
from starlette.responses import Response

from pipeline.deciding import date_facts, element_letters, public_day
from pipeline.errors import NotFound
from pipeline.listing import find_reference
from pipeline.review.changes import Change, Form, make_change
from pipeline.review.site import Site

router = APIRouter()


class TagForm(Form):
    """A judgement. element: the letters ticked."""

    tag: Literal["relevant", "not relevant", "undecided"]
    note: str = ""
    category: Literal["", "X", "Y", "A", "P", "E", "O", "T", "L", "D", "&"] = ""
    element: tuple[str, ...] = ()


class UndoForm(Form):
    """A decision to take back, by its number."""

    number: int


class RulingForm(Form):
    """A ruling. other: what it is held against, named as people name it."""

    same: bool
    other: str = ""


class DateForm(Form):
    """A public date by hand."""

    day: str = ""
    why: str = ""
    evidence: str = ""
    wins: bool = False


@router.post("/reference/{reference}/tag")
def tag_reference(request: Request, reference: str, form: Annotated[TagForm, Sent()]) -> Response:
    """Record the judgement."""

    def change(site: Site) -> Change:
        letters = element_letters(" ".join(form.element), tuple(site.matter().elements))
        facts = {"tag": form.tag, "note": form.note.strip(), "elements": letters, "category": form.category}
        return Change("tag", _members(site, reference), facts)

    return make_change(request, form, change)


@router.post("/undo")
def undo_decision(request: Request, form: Annotated[UndoForm, Sent()]) -> Response:
    """Take the decision back."""

    def change(site: Site) -> Change:
        for one in site.memory.judgements().standing():
            if one.number == form.number:
                return Change("undo", one.records, {"undoes": one.number})
        raise NotFound(f"decision {form.number} does not stand any more: it was taken back already")

    return make_change(request, form, change)


@router.post("/record/{record}/ruling")
def rule_on_record(request: Request, record: str, form: Annotated[RulingForm, Sent()]) -> Response:
    """Record that the record and the other reference are the same, or are different."""

    def change(site: Site) -> Change:
        if not form.other.strip():
            raise NotFound("name the other one: its id, its place such as #3, or its number, DOI or address")
        other = form.other.strip()
        known = site.memory.catalogue().references_of([record, other])
        if record not in known:
            raise NotFound(f"no record goes by {record!r}")
        one = other if other in known else find_reference(site.folder, other)
        if one == record:
            raise NotFound(f"{form.other!r} is this record itself; name another")
        return Change("ruling", (record, one), {"same": form.same})

    return make_change(request, form, change)


@router.post("/record/{record}/date")
def date_record(request: Request, record: str, form: Annotated[DateForm, Sent()]) -> Response:
    """Record a public date of the record's version, with what shows it."""

    def change(site: Site) -> Change:
        if not form.why.strip():
            raise NotFound("say what shows the date; a date without its reason is not kept")
        days = public_day(form.day, site.today)
        if record not in site.memory.catalogue().references_of([record]):
            raise NotFound(f"no record goes by {record!r}")
        facts = date_facts(days, form.why.strip(), form.evidence.strip(), form.wins)
        return Change("date", (record,), facts)

    return make_change(request, form, change)


def _members(site: Site, reference: str) -> tuple[str, ...]:
    found = site.memory.catalogue().members_of([reference]).get(reference, ())
    if not found:
        raise NotFound(f"no reference goes by {reference!r}; it may have become part of another one")
    return found
