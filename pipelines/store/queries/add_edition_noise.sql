INSERT INTO edition_noise (edition, club, payload) VALUES (?, ?, ?)
