-- Grain: one row per outcome: one cluster in so many is taken where it has over 50 000.
-- Denominator: that of compared_wearers.
-- State: whole, made from compared_wearers.
SELECT outcome, ceil(clusters / 50000)::UBIGINT AS step
FROM compared_wearers
