SELECT club, payload FROM edition_noise WHERE edition = ? ORDER BY club
