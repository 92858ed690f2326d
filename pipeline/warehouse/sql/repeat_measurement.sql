-- Grain: one row per pair of measurements of one aid.
-- Denominator: repeat measurements that count.
SELECT
    p.site_id,
    p.device_id,
    p.measured_at AS measured_at_utc,
    p.local_date,
    p.time_precision,
    p.test_box_id,
    p.replicate,
    p.first_hfa_ospl90_db_spl,
    p.first_hfa_gain_db,
    p.first_ein_db_spl,
    p.first_thd_pct,
    p.second_hfa_ospl90_db_spl,
    p.second_hfa_gain_db,
    p.second_ein_db_spl,
    p.second_thd_pct,
    p.file_id,
    p.line,
    p.part_of_line
FROM live_repeat_measurements AS p
