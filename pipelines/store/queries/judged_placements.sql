SELECT swing, edition, edition_hash, standard, standard_hash, payload
FROM judged_placement WHERE golfer = ? ORDER BY number
