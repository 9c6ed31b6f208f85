SELECT code, thrust_cm FROM swing WHERE club = ?
