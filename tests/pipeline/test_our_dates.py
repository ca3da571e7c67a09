"""From the dates in matter.toml to each office's verdict on one reference."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from pipeline.errors import BadMatter
from pipeline.judging import Judged, Judging
from pipeline.matter import load_matter
from pipeline.our_dates import our_dates
from pipeline.store import open_store

TODAY = date(2026, 11, 25)
HEAD = """
offices = [{offices}]
[invention]
title = "Emitter"
summary = "An emitter."
inventors = ["Ida Moravec"]
applicants = ["Halden Pumps GmbH"]
[invention.elements]
A = "an emitter"
B = "a spring"
[[concept]]
name = "emitter"
terms = ["emitter"]
"""


def dated(kind: str, day: str, office: str = "", **more: Any) -> str:
    """Return one [[date]] of matter.toml."""
    lines = {"kind": kind, "day": day, **({"office": office} if office else {}), **more}
    written = {True: "true", False: "false"}
    values = (
        written[v]
        if isinstance(v, bool)
        else str(v).replace(chr(39), chr(34))
        if isinstance(v, list)
        else f'"{v}"'
        for v in lines.values()
    )
    return "[[date]]\n" + "".join(f"{key} = {value}\n" for key, value in zip(lines, values, strict=True))


@dataclass(frozen=True)
class Found:
    """One version of a reference in the store."""

    public: str
    by: tuple[str, ...] = ("B. Okafor",)
    number: str = ""
    filed: str = ""
    priority: str = ""
    applicants: tuple[str, ...] = ()
    kind: str = "article"
    event: str = "published"
    ids: dict[str, str] = field(default_factory=dict)


def matter_of(folder: Path, dates: str, offices: tuple[str, ...] = ("US",)) -> Path:
    """Write the matter."""
    head = HEAD.replace("{offices}", ", ".join(f'"{office}"' for office in offices))
    (folder / "matter.toml").write_text(head + dates, encoding="utf-8")
    return folder


def hold(folder: Path, *versions: Found) -> None:
    """Put one reference with these versions into the store."""
    with open_store(folder) as con:
        for place, version in enumerate(versions):
            key = f"r{place}"
            people = [{"name": name, "role": "author"} for name in version.by]
            people += [{"name": name, "role": "applicant"} for name in version.applicants]
            con.execute(
                "INSERT INTO record SELECT ?, ?, 'files', ?, 1, 0, 'run', 'c', ?, 'T', '', '', "
                "list_transform(?::STRUCT(name VARCHAR, role VARCHAR)[], lambda p: "
                "{'name': p.name, 'role': p.role, 'family': '', 'given': ''}), "
                "'', '', '', '', '', '', '', FALSE, [], []",
                [key, place, key, version.kind, people],
            )
            con.execute("INSERT INTO membership VALUES (?, 'r0', ?, 'r', 1)", [key, key])
            identifiers = {**version.ids, **({"publication": version.number} if version.number else {})}
            for scheme, value in identifiers.items():
                con.execute(
                    "INSERT INTO identifier VALUES (?, ?, ?, ?, ?, '')", [key, scheme, value, value, value]
                )
            events = [
                (version.event, version.public),
                ("filed", version.filed),
                ("priority", version.priority),
            ]
            for number, (kind, day) in enumerate(events):
                if day:
                    con.execute(
                        "INSERT INTO dated_event VALUES (?, ?, ?, ?, ?, 't', 'f', '', ?, 1, TRUE)",
                        [key, number, kind, day, day, kind == version.event],
                    )


def verdicts(folder: Path, dates: str, *versions: Found, offices: tuple[str, ...] = ("US",)) -> list[Judged]:
    """Return the verdicts on the reference."""
    matter = load_matter(matter_of(folder, dates, offices))
    hold(folder, *versions)
    return list(Judging(matter, TODAY).judge(folder, ["r0"])["r0"])


OURS = Found("2025-06-10", by=("Ida Moravec",))
PAPER = Found("2026-04-01")
EP_FIRST = dated("first filing", "2026-01-15", "EP", priority_valid="yes")


@pytest.mark.parametrize(
    ("office", "dates", "found", "outcome"),
    [
        # JP Art. 30: counts from the filing there, which a first filing at the JPO is.
        ("JP", dated("first filing", "2026-03-02", "JP", declared=True), OURS, "excused_by_grace"),
        ("JP", dated("first filing", "2026-03-02", "JP", declared=False), OURS, "prior_art"),
        ("JP", dated("first filing", "2026-03-02", "JP"), OURS, "undecided"),
        # A provisional is no filing there: today's count is what is left.
        ("AU", dated("first filing", "2026-03-02", "AU", provisional=True), OURS, "prior_art"),
        # EPC Art. 89; E04: nobody has compared yet.
        ("EP", dated("first filing", "2026-01-15", "GB"), PAPER, "undecided"),
        ("EP", dated("first filing", "2026-01-15", "GB", priority_valid="yes"), PAPER, "not_prior_art"),
        ("EP", EP_FIRST, PAPER, "not_prior_art"),
        # 35 USC 120: a US parent has no twelve months; Paris Art. 4C has.
        ("US", dated("first filing", "2024-01-15", "US", elements=["A", "B"]) + dated("filing", "2026-06-01", "US"),
         Found("2024-03-01"), "not_prior_art"),
        ("US", dated("first filing", "2024-01-15", "GB", elements=["A", "B"]) + dated("filing", "2026-06-01", "US"),
         Found("2024-03-01"), "prior_art"),
        # A design gives a patent claim no date; a matter of designs is judged as one.
        ("EP", dated("filing", "2024-01-15", "EP", design=True) + dated("planned filing", "2026-12-01"),
         Found("2024-03-01"), "prior_art"),
        ("EP", dated("filing", "2024-01-15", "EP", design=True), Found("2024-03-01"), "no_rule"),
        # 35 USC 172: six months for designs.
        ("US", dated("first filing", "2025-01-15", "GB", design=True, elements=["A", "B"])
         + dated("filing", "2025-08-01", "US", design=True), Found("2025-03-01"), "prior_art"),
        ("US", dated("first filing", "2025-01-15", "GB", design=True, elements=["A", "B"])
         + dated("filing", "2025-07-15", "US", design=True), Found("2025-03-01"), "not_prior_art"),
        # The international filing is the filing everywhere (35 USC 363; PCT Art. 11(3)), whatever office took it.
        ("US", dated("international filing", "2026-02-02", "IB"), PAPER, "not_prior_art"),
        # Entry into the national phase is no filing day.
        ("US", dated("international filing", "2024-02-02") + dated("national entry", "2026-07-01", "US"), PAPER,
         "not_prior_art"),
        # 35 USC 21(b) rolls for acts at the USPTO: 2025-02-28 + 1 year is a Saturday.
        ("US", dated("filing", "2026-03-02", "US"), Found("2025-02-28", by=("Ida Moravec",)), "excused_by_grace"),
        ("US", dated("international filing", "2026-03-02"), Found("2025-02-28", by=("Ida Moravec",)), "prior_art"),
        # PCT Rule 49ter: a restoration at the receiving office binds no one else.
        ("US", dated("first filing", "2025-01-10", "GB", priority_valid="restored")
         + dated("international filing", "2026-02-20"), Found("2025-05-01"), "undecided"),
        ("WO", dated("first filing", "2025-01-10", "GB", priority_valid="restored")
         + dated("international filing", "2026-02-20"), Found("2025-05-01"), "not_prior_art"),
        ("US", dated("first filing", "2025-01-10", "GB", priority_valid="restored")
         + dated("filing", "2026-02-20", "US"), Found("2025-05-01"), "not_prior_art"),
    ],
)  # fmt: skip
def test_the_matters_dates_lead_to_the_verdict(
    office: str, dates: str, found: Found, outcome: str, tmp_path: Path
) -> None:
    """Each row: an office, what matter.toml says, one document, and what the rule named makes of it."""
    (judged,) = verdicts(tmp_path, dates, found, offices=(office,))
    assert judged.verdict.outcome == outcome, judged.verdict.reason


FILED = (
    dated("filing", "2025-06-02", "US")
    + dated("filing", "2025-06-02", "EP")
    + dated("filing", "2025-06-02", "JP")
)
LATER = {"public": "2026-03-05", "kind": "patent application"}


@pytest.mark.parametrize(
    ("office", "found", "outcome"),
    [
        # MPEP 2154.01(b); EPC Art. 89: its priority counts where the earlier application shows the matter.
        ("US", Found(**LATER, number="US20260123456A1", filed="2025-03-01", priority="2024-09-01",
                     applicants=("Sorrel Valves",)), "earlier_right"),
        ("US", Found(**LATER, number="US20260123456A1", filed="2025-09-01", priority="2025-03-01",
                     applicants=("Sorrel Valves",)), "undecided"),
        ("EP", Found(**LATER, number="EP4955302A1", filed="2025-09-01", priority="2025-03-01"), "undecided"),
        ("EP", Found(**LATER, number="EP4955302A1", filed="2025-06-02"), "not_prior_art"),
        ("EP", Found(**LATER, number="EP4955302A1", filed="2025-06-01"), "earlier_right"),
        # jurisdictions.csv: self-collision at the EPO, none in Japan against the same applicant.
        ("EP", Found(**LATER, number="EP4955302A1", filed="2025-03-01", by=("Ida Moravec",)), "earlier_right"),
        ("JP", Found(**LATER, number="JP2026123456A", filed="2025-03-01", applicants=("HALDEN PUMPS GMBH",)),
         "not_prior_art"),
        ("JP", Found(**LATER, number="JP2026123456A", filed="2025-03-01", applicants=("Sorrel Valves",)),
         "earlier_right"),
        ("JP", Found(**LATER, number="JP2026123456A", filed="2025-03-01"), "undecided"),
        # 35 USC 102(a)(2): exactly our inventors name no one else.
        ("US", Found(**LATER, number="US20260123456A1", filed="2025-03-01", by=("MORAVEC IDA",)), "not_prior_art"),
    ],
)  # fmt: skip
def test_an_earlier_filing_counts_from_what_is_sure(
    office: str, found: Found, outcome: str, tmp_path: Path
) -> None:
    """Ours was filed on 2025-06-02; the document was published after it."""
    judged = {one.office: one for one in verdicts(tmp_path, FILED, found, offices=("US", "EP", "JP"))}
    assert judged[office].verdict.outcome == outcome, judged[office].verdict.reason


def test_a_presumption_is_told_in_the_words_of_the_verdicts(tmp_path: Path) -> None:
    """J05: Japan starts from the end of the year; the token of the law stays inside."""
    matter = load_matter(matter_of(tmp_path, FILED, ("JP",)))
    hold(tmp_path, Found("2025-06-01"))
    with open_store(tmp_path) as con:
        con.execute("UPDATE dated_event SET day_from = '2025-01-01', day_to = '2025-12-31'")
    (judged,) = Judging(matter, TODAY).judge(tmp_path, ["r0"])["r0"]
    assert (judged.words, judged.presumed) == ("undecided", "after the date")


@pytest.mark.parametrize(
    ("event", "outcome"),
    [("published", "prior_art"), ("published online", "undecided"), ("posted", "undecided")],
)
def test_a_day_on_the_web_next_to_ours_is_open(event: str, outcome: str, tmp_path: Path) -> None:
    """EPC Guidelines G-IV 7.5.6: sources state web days without their time zone."""
    (_, judged, _) = verdicts(tmp_path, FILED, Found("2025-06-01", event=event), offices=("US", "EP", "JP"))
    assert judged.verdict.outcome == outcome


def test_the_users_word_settles_whose_disclosure_it_was(tmp_path: Path) -> None:
    """Two authors, one of them no inventor: an own disclosure with its number says it came from ours."""
    both = Found("2026-04-01", by=("Ida Moravec", "B. Okafor"), ids={"doi": "10.5555/jawe.2026.0303"})
    (judged,) = verdicts(tmp_path, "", both)
    assert judged.verdict.outcome == "undecided"
    own = dated("own disclosure", "2026-04-01", number="10.5555/jawe.2026.0303")
    matter = load_matter(matter_of(tmp_path, own))
    (judged,) = Judging(matter, TODAY).judge(tmp_path, ["r0"])["r0"]
    assert judged.verdict.outcome == "excused_by_grace"


@pytest.mark.parametrize(
    ("more", "outcome"),
    [
        ({"abuse": True}, "excused_by_grace"),  # EPC Art. 55(1)(a)
        ({"ground": "exhibition"}, "excused_by_grace"),  # EPC Art. 55(1)(b), the statement still to be made
        ({"ground": "none"}, "prior_art"),
        ({}, "undecided"),
    ],
)
def test_the_occasion_of_an_own_disclosure_is_asked_for(
    more: dict[str, Any], outcome: str, tmp_path: Path
) -> None:
    """Five months before the European filing, which is still to be made."""
    paper = Found("2026-07-01", ids={"doi": "10.5555/jawe.2026.0303"})
    own = dated("own disclosure", "2026-07-01", number="doi:10.5555/jawe.2026.0303", **more)
    (judged,) = verdicts(tmp_path, own, paper, offices=("EP",))
    assert judged.verdict.outcome == outcome, judged.verdict.reason


def test_a_sure_earlier_filing_is_not_hidden_by_an_open_version(tmp_path: Path) -> None:
    """What one version may at worst be is weighed with what another is sure to be."""
    sure = Found(**LATER, number="US20260123456A1", filed="2025-03-01", applicants=("Sorrel Valves",))
    mild = Found(**LATER, number="WO2026123456A1", filed="2025-09-01", priority="2025-03-01",
                 applicants=("Sorrel Valves",))  # fmt: skip
    (judged,) = verdicts(tmp_path, FILED, mild, sure)
    assert (judged.verdict.outcome, judged.version_id) == ("earlier_right", "r1")
    (tmp_path / "two").mkdir()
    matter = load_matter(matter_of(tmp_path / "two", FILED))
    hold(tmp_path / "two", sure, Found("2025-05-31"))
    with open_store(tmp_path / "two") as con:
        con.execute("UPDATE dated_event SET day_to = '2025-06-30' WHERE record_id = 'r1'")
    (judged,) = Judging(matter, TODAY).judge(tmp_path / "two", ["r0"])["r0"]
    assert judged.verdict.outcome == "undecided"
    assert "at the least it counts as earlier filing (novelty and obviousness), by version r0" in (
        judged.verdict.reason.lower()
    )


def test_elements_are_judged_by_the_filing_that_shows_them(tmp_path: Path) -> None:
    """The provisional shows A alone: B has the later filing's day, and a claim of both too."""
    dates = dated("first filing", "2026-01-15", "US", provisional=True, elements=["A"]) + dated(
        "filing", "2026-09-01", "US"
    )
    matter = load_matter(matter_of(tmp_path, dates))
    hold(tmp_path, PAPER)
    judging = Judging(matter, TODAY)
    found = {one.elements: one.verdict.outcome for one in judging.judge(tmp_path, ["r0"])["r0"]}
    assert found == {"A": "not_prior_art", "B": "prior_art"}
    assert "date of the latest" in judging.basis


def test_an_own_disclosure_shields_only_the_elements_it_showed(tmp_path: Path) -> None:
    """35 USC 102(b)(1)(B) asks for the same matter: what B's disclosure did not show stays prior art."""
    dates = dated("own disclosure", "2026-02-01", elements=["A"])
    matter = load_matter(matter_of(tmp_path, dates + EP_FIRST.replace('"yes"', '"yes"\nelements = ["A"]')))
    by_elements = {one.elements: one.dates.own_disclosures for one in our_dates(matter, "US")}
    assert by_elements["A"] and not by_elements["B"]


@pytest.mark.parametrize(
    ("dates", "says"),
    [
        ("", "Nothing is filed yet: judged as if filed today."),
        (dated("planned filing", "2027-02-01"), "judged as if filed on the planned day 2027-02-01."),
        (dated("first filing", "2026-03-02", "JP", priority_valid="yes") + dated("planned filing", "2027-02-01", "EP"),
         "Still to be filed at US: judged as if filed today. Still to be filed at EP: judged as if filed on the "
         "planned day 2027-02-01."),
        (dated("international filing", "2026-03-02"), "Judged against international filing 2026-03-02."),
    ],
)  # fmt: skip
def test_the_basis_says_what_is_assumed_where(dates: str, says: str, tmp_path: Path) -> None:
    """An office without a filing is named, with the day taken instead."""
    matter = load_matter(matter_of(tmp_path, dates, ("US", "EP", "JP")))
    assert says in Judging(matter, TODAY).basis


@pytest.mark.parametrize(
    ("dates", "says"),
    [
        (dated("filing", "2026-03-02"), "say where"),
        (dated("filing", "2026-03-02", "US", provisional=True), "is for first filing only"),
        (dated("first filing", "2026-03-02", "US", abuse=True), "is for own disclosure only"),
        (dated("own disclosure", "2026-03-02", elements=["C"]), "the elements are A, B"),
        (dated("own disclosure", "2026-03-02", ground="fair"), "is one of none, exhibition"),
    ],
)
def test_a_date_that_says_what_it_cannot_is_refused(dates: str, says: str, tmp_path: Path) -> None:
    """The error names the line and how to mend it."""
    with pytest.raises(BadMatter, match=says):
        load_matter(matter_of(tmp_path, dates))
