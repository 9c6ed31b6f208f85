INSERT INTO file_outcome (run, place, source, lab, status, code, message, swing, content_hash)
SELECT
    run,
    place + (SELECT count(*) FROM file_outcome AS kept WHERE kept.run = incoming.run),
    source, lab, status, code, message, swing, content_hash
FROM incoming
