DELETE FROM edition_feature_band WHERE edition = ?
