-- Grain: one row per dried working aid that stopped working, to be looked at one by one.
-- Denominator: first cycles of aids that worked before drying, inside the rates: whatever the
-- reason of the visit, in the comparison or not.
-- State: of site.
SELECT
    o.site_id,
    coalesce(f.file, o.file_id) AS file,
    o.line,
    o.part_of_line,
    o.local_date,
    o.visit_reason,
    o.condition_after,
    o.cell_in_chamber,
    o.disposition,
    c.line IS NOT NULL AS is_in_comparison
FROM working_outcome AS o
LEFT JOIN (SELECT DISTINCT file_id, file FROM row_account) AS f ON f.file_id = o.file_id
LEFT JOIN comparison_aid AS c
    ON c.file_id = o.file_id AND c.line = o.line AND c.part_of_line = o.part_of_line
WHERE o.is_stopped AND o.arm = 1
ORDER BY ALL
