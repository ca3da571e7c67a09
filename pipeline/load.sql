-- Merge one batch of parsed answers (new_*) into the store. Leaves the ids of records that
-- are new or say something else now in the temporary table changed.

INSERT INTO response SELECT * FROM new_response;
INSERT INTO quarantine SELECT * FROM new_quarantine;

CREATE OR REPLACE TEMP TABLE changed AS
SELECT n.record_id
FROM new_record n LEFT JOIN record r USING (record_id)
WHERE r.record_id IS NULL OR r.content <> n.content;

-- A record keeps its place in the order of arrival and its first run; the rest is what the
-- source says now. A text it does not state this time (a family look-up often has no
-- abstract) stays as it was stated before.
INSERT INTO record BY NAME
SELECT n.* EXCLUDE (place),
       (SELECT coalesce(max(seq), 0) FROM record) + row_number() OVER (ORDER BY place) AS seq
FROM (SELECT *, row_number() OVER () AS place FROM new_record) n
WHERE n.record_id NOT IN (SELECT record_id FROM record);

UPDATE record SET
    response_seq = n.response_seq, item = n.item, content = n.content, kind = n.kind,
    title = coalesce(nullif(n.title, ''), record.title),
    abstract = coalesce(nullif(n.abstract, ''), record.abstract), language = n.language, people = n.people,
    venue = n.venue, publisher = n.publisher, volume = n.volume, issue = n.issue,
    pages = n.pages, version = n.version, url = n.url, retracted = n.retracted,
    claims = CASE WHEN len(n.claims) > 0 THEN n.claims ELSE record.claims END, details = n.details
FROM new_record n
WHERE record.record_id = n.record_id AND record.content <> n.content;

DELETE FROM identifier WHERE record_id IN (FROM changed);
INSERT INTO identifier BY NAME SELECT * FROM new_identifier WHERE record_id IN (FROM changed);
DELETE FROM relation WHERE record_id IN (FROM changed);
INSERT INTO relation BY NAME SELECT * FROM new_relation WHERE record_id IN (FROM changed);
DELETE FROM class_code WHERE record_id IN (FROM changed);
INSERT INTO class_code BY NAME SELECT * FROM new_class_code WHERE record_id IN (FROM changed);

-- An event the source no longer states stays, marked so: it was stated once. A capture is no
-- statement but something that happened; a later capture does not undo it.
UPDATE dated_event SET stands = FALSE
WHERE record_id IN (FROM changed) AND kind NOT IN ('captured', 'captured here');
UPDATE dated_event AS e SET stands = TRUE, response_seq = n.response_seq, note = n.note
FROM new_dated_event n
WHERE e.record_id = n.record_id AND e.kind = n.kind AND e."text" = n."text" AND e.field = n.field
  AND e.day_from IS NOT DISTINCT FROM n.day_from AND e.day_to IS NOT DISTINCT FROM n.day_to;
INSERT INTO dated_event BY NAME
SELECT n.* EXCLUDE (place),
       coalesce((SELECT max(event) FROM dated_event o WHERE o.record_id = n.record_id), 0)
       + row_number() OVER (PARTITION BY n.record_id ORDER BY place) AS event,
       TRUE AS stands
FROM (SELECT *, row_number() OVER () AS place FROM new_dated_event) n
WHERE NOT EXISTS (
    SELECT 1 FROM dated_event e
    WHERE e.record_id = n.record_id AND e.kind = n.kind AND e."text" = n."text" AND e.field = n.field
      AND e.day_from IS NOT DISTINCT FROM n.day_from AND e.day_to IS NOT DISTINCT FROM n.day_to);

-- A record that was outside may come inside by another sweep, and one inside may come to lie
-- outside; those must be resolved too.
INSERT INTO unresolved
SELECT record_id FROM (
    SELECT record_id FROM changed
    UNION
    SELECT record_id FROM new_found n
    WHERE n.inside AND NOT EXISTS (SELECT 1 FROM found f WHERE f.record_id = n.record_id AND f.inside)
    UNION
    SELECT record_id FROM new_found n JOIN found f USING (record_id, sweep) WHERE f.inside AND NOT n.inside
) ANTI JOIN unresolved USING (record_id);

INSERT INTO found BY NAME SELECT * FROM new_found
ON CONFLICT (record_id, sweep) DO UPDATE SET within = excluded.within, inside = excluded.inside;
