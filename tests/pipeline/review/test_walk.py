"""From one reference to the next, as the list it was opened from is ordered and filtered."""

from __future__ import annotations

import html
import re
from typing import Any
from urllib.parse import quote

import pytest

from pipeline.store import open_store


def links(page: str) -> dict[str, str]:
    """Return rel -> address of the links to the neighbours."""
    found = re.findall(r'<a href="([^"]+)" rel="(prev|next)">', page)
    return {rel: html.unescape(address) for address, rel in found}


def place(page: str) -> str:
    """Return what is said of the place in the list."""
    found = re.search(r'<span class="soft">([\d,]+ of [\d,]+)</span>', page)
    return found[1] if found else ""


def shown(page: str) -> list[str]:
    """Return the references of a list, in order."""
    return re.findall(r'<article class="hit[^"]*" id="r-(\w+)"', page)


def walked(web: Any, address: str, rel: str) -> list[str]:
    """Return the references met by following the link to the end of the list."""
    met = [re.split(r"[/?]", address)[2]]
    while onward := links(web.get(address)).get(rel):
        address = onward
        met.append(re.split(r"[/?]", address)[2])
    return met


LISTS = ["/", "/?tag=all&order=oldest", "/?tag=all&order=newest", "/?kind=article", "/?element=A&least=50",
         "/?text=lid&order=newest", "/?office=US&verdict=prior_art"]  # fmt: skip


@pytest.mark.parametrize("address", LISTS)
def test_the_walk_is_the_list(web: Any, address: str) -> None:
    """Forwards and backwards, the same references in the same order, and each says which it is."""
    names = shown(web.get(address))
    assert len(names) > 1
    first, last = (f"/reference/{names[at]}?from={quote(address, safe='')}" for at in (0, -1))
    assert walked(web, first, "next") == names
    assert walked(web, last, "prev") == names[::-1]
    for n, name in enumerate(names, 1):
        page = web.get(f"/reference/{name}?from={quote(address, safe='')}")
        assert place(page) == f"{n} of {len(names)}"


def test_judging_on_the_way_moves_nothing(web: Any) -> None:
    """The list of what is not judged stays as it was when it was opened, also where no list is named."""
    names = shown(web.get("/"))
    page = web.get(f"/reference/{names[0]}")
    here = html.unescape(re.findall(r'name="back" value="([^"]+)"', page)[0])
    web.post(f"/reference/{names[0]}/tag", tag="relevant", last="0", back=here)
    onward = links(web.get(here))["next"]
    assert walked(web, onward, "next") == names[1:]
    assert place(web.get(onward)) == f"2 of {len(names)}"
    assert shown(web.get("/")) == names[1:], "a list made anew leaves the judged one out"


def test_a_reference_outside_the_list_has_no_neighbours(web: Any) -> None:
    """Filtered out of it, opened from another page, or from a list whose filter is not known."""
    names = shown(web.get("/?kind=article"))
    other = next(name for name in shown(web.get("/")) if name not in names)
    for came_from in ("/?kind=article", "/pictures/timeline", "/?tag=nonsense"):
        page = web.get(f"/reference/{other}?from={quote(came_from, safe='')}")
        assert links(page) == {} and place(page) == "" and "Back to the list" in page


def test_the_way_back_leads_to_the_page_of_the_list(web: Any) -> None:
    """Over the end of a page of fifty, the link back changes its page with the reference."""
    with open_store(web.folder) as con:
        con.execute(
            "INSERT INTO reference SELECT 'f' || lpad(n::VARCHAR, 11, '0'), 'More ' || n, 'article', 'aaaaaaaaaaaa',"
            " NULL, NULL, NULL, NULL, '2026-11-24T02:00:00Z' FROM range(100, 160) t(n)"
        )
        con.execute(
            "INSERT INTO membership SELECT 'f' || lpad(n::VARCHAR, 11, '0'), 'f' || lpad(n::VARCHAR, 11, '0'),"
            " 'f' || lpad(n::VARCHAR, 11, '0'), 'x', 1 FROM range(100, 160) t(n)"
        )
        con.execute(
            "INSERT INTO record SELECT 'f' || lpad(n::VARCHAR, 11, '0'), n, * EXCLUDE (record_id, seq, n)"
            " FROM record, range(100, 160) t(n) WHERE record_id = 'aaaaaaaaaaaa'"
        )
        con.execute("UPDATE reference SET main_record = reference_id WHERE reference_id LIKE 'f%'")
    names = shown(web.get("/"))
    assert len(names) == 50
    onward = links(web.get(f"/reference/{names[-1]}?from=%2F"))["next"]
    page = web.get(onward)
    back = html.unescape(re.findall(r'class="back" href="([^"]+)"', page)[0])
    assert "page=2" in back and back.endswith("#r-" + shown(web.get(back.split("#")[0]))[0])
