SELECT content_hash FROM edition WHERE name = ?
