INSERT INTO edition_feature_band
    (edition, cohort_key, place, feature, golfers, percent, value, low, high)
SELECT edition, cohort_key, place, feature, golfers, percent, value, low, high FROM incoming
