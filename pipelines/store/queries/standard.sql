SELECT text, standard_hash FROM standard WHERE name = ?
