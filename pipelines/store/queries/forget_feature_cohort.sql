DELETE FROM feature_cohort WHERE name = ?
