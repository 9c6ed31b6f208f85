SELECT swing, edition, edition_hash, cohort_key, document
FROM placement WHERE golfer = ? ORDER BY number
