SELECT value FROM setting WHERE key = ?
