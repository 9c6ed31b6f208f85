UPDATE edition SET content_hash = ?, parameters = ? WHERE name = ?
