"""Dates that pages state: read as exactly as they are written, and called what they are."""

from __future__ import annotations

from datetime import date

import pytest

from connectors.days import Days
from connectors.page_dates import (
    Found,
    best_claim,
    meta_dates,
    modified_date,
    path_date,
    read_days,
    schema_dates,
    time_dates,
)
from connectors.record import PUBLIC_EVENTS, StatedDate


def day(text: str) -> Days:
    """Return the one day."""
    return Days.of_day(date.fromisoformat(text))


# Forms: ISO 8601 and W3CDTF, HTML's <time>, RFC 9110 (HTTP dates), and those met on pages.
READ = [
    ("2020-02-03T09:03:10+00:00", day("2020-02-03"), ""),
    ("2016-04-06T16:00:00Z", day("2016-04-06"), ""),
    ("2016-04-06T16:00:00.123Z", day("2016-04-06"), ""),
    ("2016-04-06 16:00", day("2016-04-06"), "no time zone"),
    ("2011-02-21T00:30:00+01:00", Days(date(2011, 2, 20), date(2011, 2, 21)), "another day in UTC"),
    ("2011-02-21T23:30:00-0500", Days(date(2011, 2, 21), date(2011, 2, 22)), "another day in UTC"),
    ("2019", Days.of_year(2019), ""),
    ("2019-03", Days.of_month(2019, 3), ""),
    ("2019-03-05", day("2019-03-05"), ""),
    ("2017/06/12", day("2017-06-12"), ""),
    ("20190305", day("2019-03-05"), ""),
    ("Dec 20, 2006", day("2006-12-20"), ""),
    ("2012 Nov 26", day("2012-11-26"), ""),
    ("2012 November", Days.of_month(2012, 11), ""),
    ("4/6/2016", Days.of_year(2016), "can't be told apart"),
    ("4/6/2016 4:00:00 PM", Days.of_year(2016), "can't be told apart"),
    ("25/6/2016", day("2016-06-25"), ""),
    ("Thu, 27 Mar 1997 19:19:25 GMT", day("1997-03-27"), ""),
]


@pytest.mark.parametrize(("text", "days", "note"), READ)
def test_a_date_is_read_as_exactly_as_it_is_written(text: str, days: Days, note: str) -> None:
    """No more than the text says: a year is the year, an unclear order the year, a shifting day both days."""
    read = read_days(text)
    assert read is not None and read[0] == days and note in read[1]


@pytest.mark.parametrize(
    "text",
    ["", "PT14M36S", "13:45", "yesterday", "1 hour ago", "2019-02-30", "2019-13-01", "1532157894000",
     "1970-01-01T00:00:00Z", "1970-01-01", "0000-00-00", "2016-04-06T25:00:00+99:99", "May", "W12", "x" * 5_000],
)  # fmt: skip
def test_what_is_no_date_is_none(text: str) -> None:
    """Durations, hours, relative words, impossible days, clocks never set: no guess is made."""
    assert read_days(text) is None


# Meanings: schema.org term pages; Dublin Core terms; Open Graph article; citation_ tags.
META = [
    ("article:published_time", "claimed published"), ("og:article:published_time", "claimed published"),
    ("article:modified_time", "updated"), ("og:updated_time", "updated"),
    ("citation_publication_date", "claimed published"), ("citation_date", "claimed published"),
    ("citation_online_date", "claimed published"), ("dc.date.issued", "claimed published"),
    ("dcterms.available", "claimed published"), ("dc.date.created", "claimed created"),
    ("dc.date.datesubmitted", "submitted"), ("dcterms.dateaccepted", "accepted"),
    ("dc.date", "claimed date"), ("date", "claimed date"), ("last-modified", "updated"),
]  # fmt: skip
SCHEMA = [
    ("datePublished", (), "claimed published"), ("DatePublished", (), "claimed published"),
    ("uploadDate", (), "claimed published"), ("dateCreated", (), "claimed created"),
    ("dateModified", (), "updated"), ("releaseDate", (), "claimed offered"),
    ("validFrom", (), "claimed offered"), ("availabilityStarts", (), "claimed offered"),
    ("copyrightYear", (), "claimed date"), ("datePublished", ("DiscussionForumPosting",), "claimed created"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "kind"), META)
def test_meta_tags_are_called_what_they_mean(name: str, kind: str) -> None:
    """Submitted, accepted, created and modified are never a publication."""
    (event,), unread = meta_dates([Found(name, "2019-03-05", f'meta[name="{name}"]')])
    assert (event.kind, event.text, event.field, unread) == (kind, "2019-03-05", f'meta[name="{name}"]', [])


@pytest.mark.parametrize(("name", "types", "kind"), SCHEMA)
def test_schema_org_properties_are_called_what_they_mean(
    name: str, types: tuple[str, ...], kind: str
) -> None:
    """As the term pages define them; a thread's day is that of its first post."""
    (event,), _ = schema_dates([Found(name, "2019-03-05", f"json-ld[1]/{name}", types)])
    assert event.kind == kind


@pytest.mark.parametrize(
    "name", ["productionDate", "purchaseDate", "sdDatePublished", "priceValidUntil", "birthDate"]
)
def test_other_dates_are_no_events(name: str) -> None:
    """When a thing was made or its price ends says nothing of when it was shown."""
    assert schema_dates([Found(name, "2019-03-05", "")]) == ([], [])


def test_no_claim_of_a_page_is_public_by_itself() -> None:
    """Whatever a page says of itself proves nothing; that it was captured does."""
    claims = {kind for _, kind in META} | {kind for _, _, kind in SCHEMA} | {"taken"}
    assert not any(PUBLIC_EVENTS[kind] for kind in claims)
    assert PUBLIC_EVENTS["captured"] and PUBLIC_EVENTS["captured here"]


def test_a_text_that_is_no_date_is_kept_and_not_used() -> None:
    """Nothing is dropped in silence."""
    events, unread = meta_dates([Found("date", "soon", 'meta[name="date"]')])
    assert (events, unread) == ([], [('meta[name="date"] (not a date)', "soon")])


def test_times_on_a_page_are_dates_of_something() -> None:
    """A <time> says no more; a duration is left out."""
    found = [Found("time", "2019-03-05T10:00Z", "time[1]"), Found("time", "PT3M", "time[2]")]
    assert [(event.kind, event.field) for event in time_dates(found)] == [("claimed date", "time[1]")]


PATHS = [
    ("/2018/06/28/maps/", day("2018-06-28")), ("/2010/05/typography/", Days.of_month(2010, 5)),
    ("/news/2016/04/06/1300478/0/en/x.html", day("2016-04-06")), ("/blog/2019-03-05/x", day("2019-03-05")),
    ("/2019/13/01/", None), ("/2019/", None), ("/item/20190305/", None), ("/v/1999/99/x", None), ("/", None),
]  # fmt: skip


@pytest.mark.parametrize(("path", "days"), PATHS)
def test_the_path_of_an_address_may_hold_a_date(path: str, days: Days | None) -> None:
    """Year and month, and the day where it is there; numbers that only look alike are left."""
    found = path_date(path)
    assert (found.days if found else None) == days


def test_the_claim_shown_first_is_the_one_most_often_right() -> None:
    """The path before the article tag before JSON-LD; within a month of the path, the day that a tag states."""

    def claim(days: Days, field: str, kind: str = "claimed published") -> StatedDate:
        return StatedDate(kind, "", days, field)

    path = claim(Days.of_month(2010, 5), "address path")
    tag = claim(day("2010-05-19"), 'meta[property="article:published_time"]')
    other = claim(day("2009-01-01"), "json-ld[1]/datePublished")
    changed = claim(day("2012-01-01"), "json-ld[1]/dateModified", "updated")
    assert best_claim([changed, other, path]) == path
    assert best_claim([other, tag, path]) == tag
    assert best_claim([other, changed]) == other
    assert best_claim([changed]) is None


def test_last_modified_is_the_servers_word() -> None:
    """The header is a date of the last change by the server's clock; nonsense is none."""
    stated = modified_date("Tue, 18 Mar 1997 10:00:00 GMT")
    assert stated is not None and (stated.kind, stated.days) == ("updated", day("1997-03-18"))
    assert modified_date("never") is None and modified_date("") is None
