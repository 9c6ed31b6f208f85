SELECT cohort_key, definition, feature_names, withheld, golfers, swings, confidence, percents
FROM edition_cell WHERE edition = ? ORDER BY place
