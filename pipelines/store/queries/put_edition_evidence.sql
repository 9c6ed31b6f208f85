INSERT INTO edition_evidence (edition, kind, document) VALUES (?, ?, ?)
ON CONFLICT (edition, kind) DO UPDATE SET document = excluded.document
