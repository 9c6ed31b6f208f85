INSERT INTO study_look (cohort, kind, study, question, plan_hash, data_hash, tests, looked_at)
VALUES (?, ?, ?, ?, ?, ?, ?, ?)
RETURNING number
