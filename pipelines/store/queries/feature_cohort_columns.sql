SELECT name, values FROM feature_cohort_column WHERE cohort = ?
