-- Which data, code and settings made this warehouse?
SELECT run_id, as_of, code_version, contract_version, settings_hash, rows
FROM refresh_run
ORDER BY sequence DESC
LIMIT 1
