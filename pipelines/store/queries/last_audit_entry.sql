SELECT number, hash, done_at FROM audit_log ORDER BY number DESC LIMIT 1
