INSERT OR REPLACE INTO standard (name, text, standard_hash, edition, edition_hash)
VALUES (?, ?, ?, ?, ?)
