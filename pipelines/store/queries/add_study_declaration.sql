INSERT OR IGNORE INTO study_declaration (plan_hash, cohort, study, question, plan, declared_at)
VALUES (?, ?, ?, ?, ?, ?)
