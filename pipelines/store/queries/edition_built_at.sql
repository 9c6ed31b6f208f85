SELECT built_at FROM edition WHERE name = ?
