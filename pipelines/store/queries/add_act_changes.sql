INSERT INTO act_change
    (act, place, table_name, golfer, swing, content_hash, row_key, old_row, new_digest)
SELECT act, place, table_name, golfer, swing, content_hash, row_key, old_row, new_digest
FROM incoming
