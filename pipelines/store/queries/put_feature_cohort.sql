UPDATE feature_cohort SET document = ? WHERE name = ?
