SELECT number, hash FROM audit_log ORDER BY number DESC LIMIT 1
