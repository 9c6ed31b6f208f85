INSERT INTO edition (name, content_hash, parameters, attrition, built_at) VALUES (?, ?, ?, ?, ?)
