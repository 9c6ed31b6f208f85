DELETE FROM edition_annex WHERE edition = ?
