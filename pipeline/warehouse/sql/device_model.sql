-- Grain: one row per model and receiver variant.
-- Denominator: rows of the models table that count.
SELECT
    p.model_code,
    p.receiver_code,
    p.hfa_ospl90_spec_db_spl,
    p.hfa_gain_spec_db,
    p.ein_max_db_spl,
    p.thd_max_pct,
    p.vacuum_allowed,
    p.drying_temp_max_c,
    p.file_id,
    p.line,
    p.part_of_line
FROM live_device_models AS p
