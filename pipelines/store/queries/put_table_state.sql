INSERT OR REPLACE INTO table_state (name, rows, digest) VALUES (?, ?, ?)
