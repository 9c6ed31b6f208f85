SELECT name FROM feature_cohort ORDER BY name
