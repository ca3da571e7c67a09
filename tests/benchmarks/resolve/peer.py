"""De-duplicate a corpus with splink on DuckDB, as its manual's first example does, and print what it took.

    python peer.py FOLDER

The comparisons and blocks are those of ../shared/benchmarks/BASELINES.md, with the DOI added:
what the records hold beside title, people and year. Cleaning of titles and names is timed.
Of a million, the block by title has 180 million pairs: trained on those it took more memory than
the machine has, so that of many records a part is trained on.
"""

from __future__ import annotations

import json
import resource
import sys
import time
from pathlib import Path
from typing import Any

import duckdb
import splink.comparison_library as cl
from ours import NEW, pair_scores
from splink import DuckDBAPI, Linker, SettingsCreator, block_on

# Records from which on a part is trained on, and how large it is.
MANY, PART = 200_000, 100_000
_INPUT = """
    CREATE TABLE input AS
    WITH cleaned AS (
        SELECT record_id AS unique_id, year_from AS year, seq,
               trim(regexp_replace(lower(regexp_replace(title, '<[^>]*>', '', 'g')), '[^a-z0-9]+', ' ', 'g')) AS title,
               list_sort(list_transform(people, lambda p: lower(
                   CASE WHEN contains(p.name, ',') THEN split_part(p.name, ',', 1)
                        ELSE regexp_extract(p.name, '(\\S+)$', 1) END))) AS names
        FROM read_parquet($records)
    )
    SELECT unique_id, title, array_to_string(names, ' ') AS surnames, year, match_key AS doi,
           list_sort(list_transform(string_split(title, ' '), lambda w: lpad(length(w)::VARCHAR, 3, '0') || w), 'desc')[1:2]::VARCHAR AS long_words
    FROM cleaned LEFT JOIN read_parquet($identifiers) i ON i.record_id = unique_id
    WHERE seq <= $most
"""


BY_TITLE, BY_PEOPLE, BY_DOI = block_on("substr(title, 1, 12)"), block_on("surnames", "year"), block_on("doi")


def train(linker: Linker) -> Linker:
    """Estimate all that the library does not take as given."""
    linker.training.estimate_probability_two_random_records_match([BY_DOI], recall=0.3)
    linker.training.estimate_u_using_random_sampling(max_pairs=1e6)
    for block in (BY_PEOPLE, BY_TITLE):
        linker.training.estimate_parameters_using_expectation_maximisation(block)
    return linker


def main(folder: Path) -> None:
    """Link, cluster and print."""
    records = folder / "records.parquet"
    started, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_SELF)
    con = duckdb.connect(config={"memory_limit": "12GB", "temp_directory": str(folder / "spilled")})
    most = con.execute("SELECT count(*) FROM read_parquet(?)", [str(records)]).fetchall()[0][0] - NEW
    con.execute(
        _INPUT, {"records": str(records), "identifiers": str(folder / "identifiers.parquet"), "most": most}
    )
    settings: Any = SettingsCreator(
        link_type="dedupe_only",
        comparisons=[
            cl.JaroWinklerAtThresholds("title", [0.97, 0.92, 0.85]),
            cl.JaroWinklerAtThresholds("surnames", [0.95, 0.85, 0.7]),
            cl.ExactMatch("year"),
            cl.ExactMatch("doi"),
        ],
        blocking_rules_to_generate_predictions=[BY_TITLE, BY_PEOPLE, BY_DOI, block_on("long_words")],
    )
    api = DuckDBAPI(connection=con)
    if most > MANY:
        con.execute(f"CREATE TABLE part AS FROM input LIMIT {PART}")
        settings = train(Linker(api.register(con.table("part")), settings)).misc.save_model_to_json()
        linker = Linker(api.register(con.table("input")), settings)
        linker.training.estimate_probability_two_random_records_match([BY_DOI], recall=0.3)
    else:
        linker = train(Linker(api.register(con.table("input")), settings))
    predictions = linker.inference.predict(threshold_match_probability=0.9)
    clusters = linker.clustering.cluster_pairwise_predictions_at_threshold(predictions, 0.95)
    rows = clusters.as_duckdbpyrelation().to_arrow_table()
    wall, used = time.perf_counter() - started, resource.getrusage(resource.RUSAGE_SELF)
    con.register("clusters", rows)
    found = con.sql(
        f"SELECT dense_rank() OVER (ORDER BY cluster_id) AS c, work FROM clusters "
        f"JOIN read_parquet('{folder / 'truth.parquet'}') t ON t.record_id = unique_id"
    ).to_arrow_table()
    cpu = used.ru_utime + used.ru_stime - before.ru_utime - before.ru_stime
    took = {"wall_s": wall, "cpu_s": cpu, "peak_mib": used.ru_maxrss / 1024}
    print(
        json.dumps({"first": took, "quality": pair_scores(found["c"].to_numpy(), found["work"].to_numpy())})
    )


if __name__ == "__main__":
    main(Path(sys.argv[1]))
