SELECT table_name, row_key, old_row, new_digest, golfer, swing, content_hash
FROM act_change
WHERE act = ?
ORDER BY place
