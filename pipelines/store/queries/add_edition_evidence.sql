INSERT INTO edition_evidence (edition, kind, document) VALUES (?, ?, ?)
