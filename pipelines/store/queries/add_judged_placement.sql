INSERT INTO judged_placement
    (swing, golfer, edition, edition_hash, standard, standard_hash, payload)
VALUES (?, ?, ?, ?, ?, ?, ?)
