INSERT INTO audit_log (number, done_at, who, action, details, previous, hash)
VALUES (?, ?, ?, ?, ?, ?, ?)
