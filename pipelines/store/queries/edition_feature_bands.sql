SELECT cohort_key, place, feature, golfers, percent, value, low, high
FROM edition_feature_band WHERE edition = ?
ORDER BY cohort_key, place, percent
