SELECT number, done_at, who, action, details, previous, hash FROM audit_log ORDER BY number
