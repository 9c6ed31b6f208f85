DELETE FROM edition_annex_array WHERE edition = ?
