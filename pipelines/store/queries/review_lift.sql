SELECT code, lift_cm FROM swing WHERE club = ?
