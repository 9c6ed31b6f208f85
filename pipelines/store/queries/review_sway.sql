SELECT code, sway_cm FROM swing WHERE club = ?
