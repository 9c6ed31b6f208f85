DELETE FROM edition_band WHERE edition = ?
