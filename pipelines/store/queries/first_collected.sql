SELECT min(run.started_at)
FROM collect_run AS run
JOIN file_outcome AS file ON file.run = run.run
JOIN swing ON swing.code = file.swing
WHERE swing.golfer = ?
