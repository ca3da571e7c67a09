"""How long the offices' verdicts on 100,000 references take, beside judging each by itself."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path
from time import process_time

import pytest

from pipeline.judging import Judging, versions_in
from pipeline.law.cutoff import judge
from pipeline.matter import load_matter
from pipeline.our_dates import our_dates
from pipeline.store import open_store
from tests.benchmarks.big_matter import make_big_matter

SIZE, SAMPLE = 100_000, 1_000
OFFICES = ("US", "EP", "WO", "JP", "KR", "CN", "CA", "AU", "IN", "GB", "DE")
TODAY = date(2026, 11, 25)


@pytest.mark.benchmark
def test_verdicts_of_eleven_offices_on_a_big_matter(tmp_path: Path) -> None:
    """Prints CPU seconds; the peer is `judge` on each reference of a sample, which must agree."""
    matter = replace(load_matter(make_big_matter(tmp_path, SIZE)), offices=OFFICES)
    with open_store(tmp_path, read_only=True) as con:
        references = [
            row[0] for row in con.execute("SELECT reference_id FROM reference ORDER BY 1").fetchall()
        ]
    judging, begun = Judging(matter, TODAY), process_time()
    judged = judging.judge(tmp_path, references)
    together = process_time() - begun
    with open_store(tmp_path, read_only=True) as con:
        sample = versions_in(con, references[:: SIZE // SAMPLE], matter)
    dates = {office: our_dates(matter, office)[0].dates for office in OFFICES}
    begun = process_time()
    for reference, ((_, disclosure),) in sample.items():
        alone = [judge(office, disclosure, dates[office], TODAY) for office in OFFICES]
        assert [one.verdict for one in judged[reference]] == alone
    each = (process_time() - begun) * SIZE / len(sample)
    print(
        f"\n{len(judged)} references, {len(OFFICES)} offices: {together:.1f} s CPU; each by itself, from a "
        f"sample of {len(sample)}: {each:.0f} s ({each / together:.0f} times as long)"
    )
