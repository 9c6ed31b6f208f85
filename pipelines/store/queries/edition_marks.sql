SELECT edition, receipt, policy, hash_before, hash_after, marked_at
FROM edition_mark WHERE edition = ? ORDER BY marked_at
