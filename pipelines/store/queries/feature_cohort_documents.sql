SELECT name, document FROM feature_cohort ORDER BY name
