DELETE FROM feature_cohort_column WHERE cohort = ?
