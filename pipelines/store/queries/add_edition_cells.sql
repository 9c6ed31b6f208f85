INSERT INTO edition_cell
    (edition, place, cohort_key, definition, feature_names, withheld, golfers, swings,
     confidence, percents)
SELECT
    edition, place, cohort_key, definition, feature_names, withheld, golfers, swings,
    confidence, percents
FROM incoming
