INSERT INTO feature_cohort (name, document, imported_at) VALUES (?, ?, ?)
