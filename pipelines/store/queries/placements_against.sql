SELECT number, cohort_key, document FROM placement WHERE edition = ?
