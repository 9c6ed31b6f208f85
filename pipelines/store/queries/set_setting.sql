INSERT OR REPLACE INTO setting (key, value) VALUES (?, ?)
