INSERT INTO standard_review (standard, standard_hash, edition, edition_hash, held_on)
VALUES (?, ?, ?, ?, ?) RETURNING number
