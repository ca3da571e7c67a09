"""What a status, header or fault of EPO OPS asks us to do."""

from __future__ import annotations

import re
from datetime import timedelta

from connectors.connector import Page
from connectors.errors import SourceBusy, SourceChanged, SourceError, SourceRefused, TokenExpired
from connectors.xml import parse_xml, text_of

HOUR_S = 3600.0
DAY_S = 86_400.0

# Fair use charter: as a rule ten searches a minute, a family a second; the header's own
# limits (30 and 60 in quiet hours) are the most, not the invitation.
LOOK_UPS = ("family", "numbers")
_PER_MINUTE = {"search": 10, "inpadoc": 60, "retrieval": 60}
# By the share of the minute's allowance that is used: below half, to three quarters, above.
_SLOWER = {"green": 1.0, "yellow": 2.0, "red": 4.0}
_COLOURS = ("green", "yellow", "red", "black")
_LIGHT = re.compile(r"(\w+)=(green|yellow|red|black):(\d{1,6})", re.ASCII)
SUSPENDED_S = 60.0  # black without Retry-After: the guide's own example


def what_is_wrong(source: str, page: Page, later_page: bool) -> SourceError | None:
    """Return None where the page can be parsed, else what is wrong.

    later_page: results were announced, so that 'no results' is a fault (false 404s come in
    busy hours). A family look-up that can't be found is an item for the quarantine, not a
    reason to stop the source.
    """
    if page.status == 200:
        return None
    if page.status == 404 and later_page and no_results(page):
        return SourceBusy(source, "said 'no results' in the middle of the results")
    if page.status in (404, 413) and (no_results(page) or page.request.step in LOOK_UPS):
        return None
    if page.status == 400 and page.request.step == "numbers" and fault(page)[0].startswith("CLIENT."):
        return None  # one bad number among many
    code, said = fault(page)
    told = ", ".join(part for part in (code, said) if part not in ("", str(page.status)))
    what = f"answered {page.status}" + (f" ({told})" if told else "")
    if page.status == 400 and "invalid_access_token" in (code, said):
        return TokenExpired(source, "the access token has run out")
    if page.status == 403:
        return _quota(source, page, what)
    if page.status == 429 or page.status == 408 or page.status >= 500:
        return SourceBusy(source, what, _retry_after_s(page))
    return SourceRefused(source, what)


def no_results(page: Page) -> bool:
    """Return whether the answer means that nothing matches: 404, with this fault or no body at all."""
    return page.status == 404 and (not page.body.strip() or fault(page)[0] == "SERVER.EntityNotFound")


def fault(page: Page) -> tuple[str, str]:
    """Return (code, message) of an error answer, ("", "") where it can't be read.

    The service's faults are in its namespace, the gateway's errors in none.
    """
    try:
        root = parse_xml("epo_ops", page.body)
    except SourceChanged:
        return "", ""
    return text_of(root.find("{*}code"))[:100], text_of(root.find("{*}message"))[:200]


def pause_s(page: Page) -> float:
    """Return the seconds the throttling header asks for, 0 without one.

    Named twice, a service's worst colour and lowest limit count: many servers answer and
    each does its own counting.
    """
    service = {"family": "inpadoc", "numbers": "retrieval"}.get(page.request.step, "search")
    lights = [
        (_COLOURS.index(colour), int(limit))
        for name, colour, limit in _LIGHT.findall(page.headers.get("x-throttling-control", ""))
        if name == service
    ]
    if not lights:
        return 0.0
    colour, limit = _COLOURS[max(rank for rank, _ in lights)], min(limit for _, limit in lights)
    if colour == "black":
        return _retry_after_s(page) or SUSPENDED_S
    return 60.0 / max(1, min(limit, _PER_MINUTE[service])) * _SLOWER[colour]


def _quota(source: str, page: Page, what: str) -> SourceError:
    """Return what a 403 means by its reason header: an hour's or a week's volume, a minute's rate, or no."""
    reason = page.headers.get("x-rejection-reason", "")
    used = _used(page)
    if "PerHour" in reason:
        text = f"the hour's volume is used up ({reason}{used})"
        return SourceBusy(source, text, _retry_after_s(page) or HOUR_S)
    if "PerWeek" in reason:
        # The guide: released at midnight UTC at the turn of the calendar week; the day is our reading.
        monday = page.received_on + timedelta(days=7 - page.received_on.weekday())
        wait_s = (monday - page.received_on).days * DAY_S
        text = f"the week's volume is used up ({reason}{used}) until Monday {monday} 00:00 UTC"
        return SourceBusy(source, text, wait_s)
    if (
        "PerMinute" in reason
        or "Throttling" in reason
        or "=black" in page.headers.get("x-throttling-control", "")
    ):
        text = f"asks for a rest ({reason or 'suspended'})"
        return SourceBusy(source, text, _retry_after_s(page) or SUSPENDED_S)
    return SourceRefused(source, f"{what}{f' ({reason})' if reason else ''}")


def _used(page: Page) -> str:
    """Return the volumes used, as the headers state them (bytes)."""
    stated = {
        "hour": page.headers.get("x-individualquotaperhour-used", ""),
        "week": page.headers.get("x-registeredquotaperweek-used", ""),
    }
    counts = [
        f"{int(text) / 1e6:,.0f} MB in the {span}"
        for span, text in stated.items()
        if re.fullmatch(r"\d{1,15}", text, re.ASCII)
    ]
    return f"; used: {', '.join(counts)}" if counts else ""


def _retry_after_s(page: Page) -> float | None:
    """Return the seconds Retry-After asks for, None without it.

    The throttle (403, 429) states milliseconds, against RFC 9110; taken for seconds, a
    minute's wait would be 16 hours. Server faults come from a gateway that keeps to seconds.
    """
    text = page.headers.get("retry-after", "").strip()
    if not re.fullmatch(r"\d{1,9}", text, re.ASCII):
        return None
    return int(text) / (1000.0 if page.status in (200, 403, 429) else 1.0)
