"""A matter of any size for measuring: invented records, written straight into the store."""

from __future__ import annotations

from pathlib import Path

from pipeline.store import open_store

MATTER = """
offices = ["US", "EP", "JP"]
[invention]
title = "Lid hinge"
summary = "A hinge that holds a lid open at any angle by friction."
[invention.elements]
A = "a lid"
B = "a friction hinge"
C = "a torque limiter"
D = "a spring"
E = "a cable duct"
[[concept]]
name = "hinge"
terms = ["hinge"]
[[date]]
kind = "first filing"
day = 2026-03-16
office = "US"
"""
# Every third reference has a second record, every fifth is a patent document; days spread
# over 30 years, some known by month or year alone; the best 2,000 are compared by element.
_FILL = """
CREATE TEMP TABLE made AS
SELECT n, 'r' || lpad(n::VARCHAR, 11, '0') AS id, n % 5 = 0 AS patent,
       DATE '1996-01-01' + (hash(n) % 11280)::INTEGER AS day, hash(n + 7) % 10 AS grain,
       ['valve', 'spring', 'hinge', 'duct', 'lid', 'torque', 'friction', 'limiter', 'cable', 'seat'] AS w
FROM range(1, $size + 1) t(n);

INSERT INTO run SELECT '2026-11-' || lpad(d::VARCHAR, 2, '0') || 'T02:00:00Z',
    TIMESTAMP '2026-11-01 02:00:00' + to_days((d - 1)::INTEGER), TIMESTAMP '2026-11-01 02:30:00'
    + to_days((d - 1)::INTEGER), 'complete' FROM range(1, 11) t(d);

INSERT INTO record
SELECT r.id || CASE WHEN copy = 1 THEN 'b' ELSE 'a' END, n * 2 + copy,
       CASE WHEN patent THEN 'epo_ops' WHEN (n + copy) % 2 = 0 THEN 'crossref' ELSE 'openalex' END,
       'native-' || n || '-' || copy, 1, 0, '2026-11-' || lpad((n % 10 + 1)::VARCHAR, 2, '0') || 'T02:00:00Z',
       'c', CASE WHEN patent THEN 'patent application' WHEN n % 7 = 0 THEN 'preprint' ELSE 'article' END,
       'On the ' || w[n % 10 + 1] || ' of a ' || w[(n // 10) % 10 + 1] || ' with a ' || w[(n // 100) % 10 + 1] || ', part ' || n,
       repeat('A ' || w[n % 10 + 1] || ' meets the ' || w[(n // 7) % 10 + 1] || ' where the lid turns. ', 20),
       'en', [{name: 'Ida Moravec ' || n % 5000, role: 'author', family: 'Moravec', given: 'Ida'}],
       'Journal of Hinges ' || n % 200, '', '', '', '', '', '', FALSE, [], []
FROM made r, range(0, 2) c(copy) WHERE copy = 0 OR n % 3 = 0;

INSERT INTO identifier
SELECT record_id, CASE WHEN patent THEN 'publication' ELSE 'doi' END,
       CASE WHEN patent THEN 'EP' || 1000000 + n || 'A1' ELSE '10.5555/hinge.' || n END,
       CASE WHEN patent THEN 'EP' || 1000000 + n ELSE '10.5555/hinge.' || n END, '', ''
FROM record JOIN made ON left(record_id, 12) = id;

INSERT INTO dated_event
SELECT record_id, 1, CASE WHEN patent THEN 'publication of application' ELSE 'published online' END,
       CASE grain WHEN 0 THEN date_trunc('year', day) WHEN 1 THEN date_trunc('month', day) ELSE day END,
       CASE grain WHEN 0 THEN date_trunc('year', day) + INTERVAL 1 YEAR - INTERVAL 1 DAY
                  WHEN 1 THEN date_trunc('month', day) + INTERVAL 1 MONTH - INTERVAL 1 DAY ELSE day END,
       'as stated', 'field', '', TRUE, 1, TRUE
FROM record JOIN made ON left(record_id, 12) = id;
INSERT INTO dated_event
SELECT record_id, 2, 'filed', day - 540, day - 540, 'as stated', 'field', '', FALSE, 1, TRUE
FROM record JOIN made ON left(record_id, 12) = id WHERE patent;

INSERT INTO membership SELECT record_id, id || 'a', id || 'a', 'the same DOI', 1
FROM record JOIN made ON left(record_id, 12) = id;
INSERT INTO reference
SELECT id || 'a', title, record.kind, record_id, day_from, day_to, record_id, 1, first_run
FROM made JOIN record ON record_id = id || 'a' JOIN dated_event e USING (record_id) WHERE e.event = 1;
INSERT INTO found SELECT record_id, source, 'hinge', first_run, 'yes', TRUE FROM record;
INSERT INTO score SELECT id || 'a', n, 1.0 / n, 1.0 / n, 1.0 / n FROM made;
INSERT INTO passage SELECT id || 'a', p, CASE p WHEN 1 THEN 'title' ELSE 'abstract' END,
    'A ' || w[n % 10 + 1] || ' meets the ' || w[(n // 7) % 10 + 1] || ' where the lid turns.'
FROM made, range(1, 12) t(p) WHERE n <= 2000;
INSERT INTO element_match SELECT id || 'a', e, (hash(n || e) % 1000) / 1000.0, hash(n || e) % 11 + 1
FROM made, UNNEST(['A', 'B', 'C', 'D', 'E']) t(e) WHERE n <= 2000;
INSERT INTO topic SELECT t, 'topic ' || w[t], 100 FROM (SELECT w FROM made LIMIT 1), range(1, 11) r(t);
INSERT INTO topic_member SELECT id || 'a', n % 10 + 1 FROM made WHERE n <= 5000;
INSERT INTO response VALUES (1, '2026-11-01T02:00:00Z', 'crossref', 'hinge', 'GET works', 200,
    TIMESTAMP '2026-11-01 02:00:00', 'aa', 2, 1, 1, 0);
INSERT INTO search SELECT run_id, source, 'hinge', 'hinge', started_at, 'complete', '', 1, 1, FALSE, 1, 1, 0, 0
FROM run, UNNEST(['crossref', 'openalex', 'epo_ops']) s(source);
"""


def make_big_matter(folder: Path, size: int) -> Path:
    """Write a matter with `size` references, about a third of them in two records; return the folder."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "matter.toml").write_text(MATTER, encoding="utf-8")
    with open_store(folder) as con:
        for statement in _FILL.replace("$size", str(size)).split(";\n"):
            if statement.strip():
                con.execute(statement)
    return folder
