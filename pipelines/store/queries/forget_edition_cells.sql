DELETE FROM edition_cell WHERE edition = ?
