-- Write what was resolved: keys, links, memberships, references with their earliest public date.
-- Only what something new touches: again (new or gone records), grouped (their chains).
-- Rows are found by their record's id first and then read and deleted by place: asked for by id,
-- DuckDB 2.0.1 unpacks all columns of all rows.

CREATE OR REPLACE TEMP TABLE former_link AS
SELECT rowid AS place FROM link SEMI JOIN again ON record_a = record_id
UNION SELECT rowid FROM link SEMI JOIN again ON record_b = record_id;
DELETE FROM link WHERE rowid IN (FROM former_link);
INSERT INTO link BY NAME SELECT * FROM judged;
DELETE FROM block WHERE seq IN (SELECT seq FROM record WHERE record_id IN (FROM again));
INSERT INTO block BY NAME SELECT * FROM fresh;

CREATE OR REPLACE TEMP TABLE former_place AS
SELECT rowid AS place FROM membership
WHERE record_id IN (SELECT record_id FROM grouped UNION ALL FROM gone UNION ALL FROM hand_dated);
CREATE OR REPLACE TEMP TABLE former AS
SELECT place, m.* FROM membership m JOIN former_place ON m.rowid = place;
CREATE OR REPLACE TEMP TABLE touched AS
SELECT reference_id FROM former UNION SELECT reference_id FROM grouped;

-- Most of what is grouped again stays as it was.
CREATE OR REPLACE TEMP TABLE moved AS
SELECT * FROM grouped ANTI JOIN former USING (record_id, reference_id, version_id, reason, score);
DELETE FROM membership WHERE rowid IN (
    SELECT place FROM former WHERE record_id IN (SELECT record_id FROM moved UNION ALL FROM gone)
);
INSERT INTO membership BY NAME SELECT * FROM moved;
DELETE FROM unresolved WHERE record_id IN (FROM seen);

CREATE OR REPLACE TEMP TABLE member_place AS
SELECT m.reference_id, r.rowid AS place
FROM membership m JOIN record r USING (record_id) WHERE m.reference_id IN (FROM touched);
CREATE OR REPLACE TEMP TABLE member AS
SELECT m.reference_id, r.record_id, r.seq, r.first_run, r.title, r.kind, r.abstract = '' AS title_only
FROM member_place m JOIN record r ON r.rowid = m.place;

-- Every public event of every version. An event says: public on one of these days. The one
-- that proves publication soonest (least last day) gives the reference its date; a vaguer
-- statement that only contains it adds nothing. A date the user entered stands beside the
-- sources' and goes before them only where the user said so; it has no event number.
CREATE OR REPLACE TEMP TABLE public_event AS
SELECT m.reference_id, e.record_id, e.event, e.day_from, e.day_to, FALSE AS wins, m.seq
FROM member m JOIN dated_event e USING (record_id)
WHERE e.public AND e.stands
UNION ALL
SELECT m.reference_id, h.record_id, NULL, h.day_from, h.day_to, h.wins, m.seq
FROM hand_dates h JOIN member m USING (record_id);

DELETE FROM reference WHERE reference_id IN (FROM touched);
INSERT INTO reference BY NAME
WITH main AS (
    SELECT reference_id, record_id, title, kind FROM member
    -- The text to read: with title and abstract, published rather than preprint, first seen.
    QUALIFY row_number() OVER (PARTITION BY reference_id ORDER BY
        title = '', title_only, kind = 'preprint', seq) = 1
), earliest AS (
    SELECT * FROM public_event
    QUALIFY row_number() OVER (PARTITION BY reference_id ORDER BY
        wins DESC, day_to NULLS LAST, day_from DESC NULLS LAST, seq, event) = 1
), arrival AS (
    SELECT reference_id, arg_min(first_run, seq) AS first_run FROM member GROUP BY ALL
)
SELECT reference_id, main.title, main.kind, main.record_id AS main_record,
       earliest.day_from AS public_from, earliest.day_to AS public_to,
       earliest.record_id AS public_record, earliest.event AS public_event, arrival.first_run
FROM main LEFT JOIN earliest USING (reference_id) JOIN arrival USING (reference_id);

CREATE OR REPLACE TEMP TABLE vanished AS
SELECT reference_id FROM touched ANTI JOIN reference USING (reference_id);
DELETE FROM score WHERE reference_id IN (FROM vanished);
DELETE FROM element_match WHERE reference_id IN (FROM vanished);
DELETE FROM passage WHERE reference_id IN (FROM vanished);
DELETE FROM topic_member WHERE reference_id IN (FROM vanished);
