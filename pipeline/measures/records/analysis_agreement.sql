-- Grain: one row per site with 30 aids or more, before or after, that were graded and measured.
-- Denominator: the lower share of the two moments on which grade and measurement agree.
-- State: of site.
SELECT site_id, min(share_agree) AS agreement_share
FROM condition_agreement
WHERE site_id IS NOT NULL AND moment IN ('before', 'after') AND assessed >= 30
GROUP BY site_id
ORDER BY site_id
