-- Every document of the tables handed in, by number, with all that the other tables say of it.
-- $every: also those that no table of texts speaks of.
WITH document AS (
    FROM patents UNION ALL BY NAME FROM publications
), wanted AS (
    SELECT patent_id FROM claims UNION SELECT patent_id FROM summaries
    UNION SELECT patent_id FROM drawings UNION SELECT patent_id FROM descriptions
), claim AS (
    SELECT patent_id, list({number: claim_number, text: claim_text, names: dependent}
        ORDER BY try_cast(claim_sequence AS INTEGER), claim_number) AS claims
    FROM claims GROUP BY ALL
), class AS (
    SELECT patent_id, list(DISTINCT cpc_group ORDER BY cpc_group) AS classes FROM classes GROUP BY ALL
), drawing AS (
    SELECT patent_id, list(draw_desc_text ORDER BY try_cast(draw_desc_sequence AS INTEGER)) AS drawings
    FROM drawings GROUP BY ALL
), abstract AS (
    SELECT patent_id, any_value(patent_abstract) AS patent_abstract FROM abstracts GROUP BY ALL
), filing AS (
    SELECT patent_id, any_value(application_id) AS application_id, any_value(filing_date) AS filing_date
    FROM filings GROUP BY ALL
), term AS (
    SELECT patent_id, any_value(term_extension) AS term_extension, any_value(term_grant) AS term_grant,
           any_value(term_disclaimer) AS term_disclaimer, any_value(disclaimer_date) AS disclaimer_date
    FROM terms GROUP BY ALL
), summary AS (
    SELECT patent_id, string_agg(summary_text, chr(10)) AS summary_text FROM summaries GROUP BY ALL
), description AS (
    SELECT patent_id, string_agg(description_text, chr(10)) AS description_text FROM descriptions GROUP BY ALL
)
SELECT d.patent_id, d.patent_date, d.patent_title, d.wipo_kind, d.patent_type, d.num_claims, d.withdrawn,
       coalesce(a.patent_abstract, d.patent_abstract) AS abstract,
       coalesce(f.application_id, d.application_id) AS application_id,
       coalesce(f.filing_date, d.filing_date) AS filing_date,
       t.term_extension, t.term_grant, t.term_disclaimer, t.disclaimer_date,
       claims, classes, drawings, s.summary_text, x.description_text
FROM document d
LEFT JOIN abstract a USING (patent_id)
LEFT JOIN filing f USING (patent_id)
LEFT JOIN term t USING (patent_id)
LEFT JOIN claim USING (patent_id)
LEFT JOIN class USING (patent_id)
LEFT JOIN drawing USING (patent_id)
LEFT JOIN summary s USING (patent_id)
LEFT JOIN description x USING (patent_id)
WHERE $every OR d.patent_id IN (FROM wanted)
ORDER BY d.patent_id, d.wipo_kind
