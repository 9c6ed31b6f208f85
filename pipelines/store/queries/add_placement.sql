INSERT INTO placement (swing, golfer, edition, edition_hash, cohort_key, document)
VALUES (?, ?, ?, ?, ?, ?)
