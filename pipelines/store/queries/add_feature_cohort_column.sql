INSERT INTO feature_cohort_column (cohort, name, values) VALUES (?, ?, ?)
