SELECT payload FROM edition_lab WHERE edition = ? ORDER BY lab, club
