INSERT INTO collect_run (run, lab, started_at)
SELECT coalesce(max(run), 0) + 1, ?, ? FROM collect_run
RETURNING run
