"""Whom a capture speaks to: nobody inside, no archive that was not to hear, none that asks to be left alone."""

from __future__ import annotations

from typing import Any

import pytest

from pipeline.errors import BadAddress, BadMatter
from pipeline.matter import load_matter
from tests.pipeline.capture.world import HTML, PAGE, Bench


def test_no_archive_means_that_it_hears_nothing(bench: Bench) -> None:
    """By choice on the command line or in matter.toml: skipped, said, and not sent."""
    end = bench.capture("/flusher", archive=False)
    assert end.outcome == "complete" and end.captured[0].archive_outcome == "skipped"
    text = (bench.folder / "matter.toml").read_text(encoding="utf-8")
    (bench.folder / "matter.toml").write_text(text + "on = false\n", encoding="utf-8")
    assert "matter.toml" in bench.capture("/flusher").captured[0].archive_reason
    assert not [target for target in bench.world.asked if target.startswith(("/cdx", "/web/"))]


def test_inner_addresses_are_told_to_nobody(bench: Bench) -> None:
    """An address that leads inside is not fetched, and the archive is not asked about it either."""
    end = bench.capture(
        "http://10.0.0.1/plan", "http://wiki/x", "http://firm.example/y", lookup=lambda *_: ("10.1.1.1",)
    )
    assert end.outcome == "failed" and bench.world.asked == []
    assert all("told to nobody" in one.archive_reason for one in end.captured)


def test_a_named_host_is_fetched_and_not_told_to_the_archive(bench: Bench) -> None:
    """The matter says it lies inside: its pages are kept, its addresses stay here."""
    host = bench.url.removeprefix("http://")
    text = (bench.folder / "matter.toml").read_text(encoding="utf-8")
    (bench.folder / "matter.toml").write_text(f'{text}[capture]\nhosts = ["{host}"]\n', encoding="utf-8")
    end = bench.capture("/flusher", pictures=0, lookup=lambda *_: ("127.0.0.1",))
    assert end.captured[0].outcome == "complete" and "named" not in end.captured[0].reason
    assert "names this host" in end.captured[0].archive_reason
    assert bench.world.asked == ["/robots.txt", "/flusher"]


def test_a_canonical_address_that_lies_inside_is_not_told_to_the_archive(bench: Bench) -> None:
    """Whatever a page calls its own address: a host the matter names, or an inner name, is told to nobody."""
    text = (bench.folder / "matter.toml").read_text(encoding="utf-8")
    (bench.folder / "matter.toml").write_text(
        f'{text}[capture]\nhosts = ["wiki.firm.example"]\n', encoding="utf-8"
    )
    for path, inner in (
        ("/a", b"http://wiki.firm.example/plan"),
        ("/b", b"http://10.1.2.3/plan"),
        ("/c", b"http://wiki/plan"),
    ):
        bench.world.pages[path] = {
            "body": PAGE.replace(b'href="/flusher"', b'href="' + inner + b'"'),
            "headers": HTML,
        }
    bench.capture("/a", "/b", "/c", pictures=0)
    asked = [target for target in bench.world.asked if target.startswith("/cdx")]
    assert len(asked) == 3 and not [target for target in asked if "plan" in target]


def test_a_page_can_not_send_us_inside_through_its_pictures(bench: Bench) -> None:
    """A picture's address is judged like any other; the page is kept, the picture named as refused."""
    bench.world.pages["/flusher"]["body"] = PAGE.replace(
        b"/cut.png", b"http://169.254.169.254/latest/meta-data/a.png"
    )
    end = bench.capture("/flusher")
    assert end.captured[0].outcome == "incomplete"
    assert "169.254.169.254 lies in this machine or its network" in end.captured[0].reason
    assert not [target for target in bench.world.asked if "meta-data" in target]


def test_a_picture_that_is_none_is_not_kept_as_one(bench: Bench) -> None:
    """A site that answers with a page where a picture should be: named, and no reference of it."""
    bench.world.pages["/cut.png"] = {"body": b"<html>sign in first", "headers": HTML}
    end = bench.capture("/flusher")
    assert end.captured[0].outcome == "incomplete" and "is no picture" in end.captured[0].reason
    assert [hit.kind for hit in bench.hits()] == ["web page"]


def test_an_archive_that_asks_to_be_left_alone_is_left_alone(bench: Bench) -> None:
    """Two 429s: the look-ups end, later pages' are not sent, all is said and nothing lost."""
    answer = bench.world.answer
    asked = []

    def busy(seen: Any) -> dict[str, Any]:
        if seen.path.startswith("/cdx"):
            asked.append(seen.target)
            return {"status": 429}
        return answer(seen)

    bench.world.index = lambda seen: busy(seen)  # type: ignore[method-assign]
    end = bench.capture("/flusher", "/cut.png", pictures=0)
    assert len(asked) == 2 and end.outcome == "incomplete"
    assert "429" in end.captured[0].archive_reason
    assert "earlier look-up failed" in end.captured[1].archive_reason
    assert len(bench.hits()) == 2


def test_an_address_that_is_none_stops_all_before_anything_is_sent(bench: Bench) -> None:
    """With where it was written and what is wrong."""
    with pytest.raises(BadAddress, match=r"here.*ftp.*Nothing was fetched"):
        bench.capture("/flusher", "ftp://shop.example/x")
    assert bench.world.asked == []


def test_hosts_to_capture_are_checked_in_matter_toml(bench: Bench) -> None:
    """A whole address where a host belongs is an error with its line."""
    path = bench.folder / "matter.toml"
    path.write_text(
        path.read_text(encoding="utf-8") + '[capture]\nhosts = ["http://wiki/"]\n', encoding="utf-8"
    )
    with pytest.raises(BadMatter, match=r"capture\.hosts"):
        load_matter(bench.folder)
