SELECT DISTINCT file.swing
FROM file_outcome AS file
JOIN collect_run AS run ON run.run = file.run
WHERE run.started_at > ? AND file.status IN ('accepted', 'accepted_with_warnings')
