INSERT INTO edition_mark (edition, receipt, policy, hash_before, hash_after, marked_at)
VALUES (?, ?, ?, ?, ?, ?)
