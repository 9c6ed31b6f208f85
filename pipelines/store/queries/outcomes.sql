SELECT source, lab, status, code, message, swing, content_hash
FROM file_outcome
WHERE run = coalesce(?, run)
ORDER BY run, place
