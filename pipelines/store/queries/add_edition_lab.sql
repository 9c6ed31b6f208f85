INSERT INTO edition_lab (edition, lab, club, payload) VALUES (?, ?, ?, ?)
