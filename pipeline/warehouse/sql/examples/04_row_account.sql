-- Does every file's row account balance, and what was refused?
SELECT file, rows_read, accepted, quarantined, duplicate, skipped_lines, values_refused, status
FROM row_account
WHERE is_live
ORDER BY quarantined DESC, file
LIMIT 20
