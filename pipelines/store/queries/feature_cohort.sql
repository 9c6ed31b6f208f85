SELECT document FROM feature_cohort WHERE name = ?
