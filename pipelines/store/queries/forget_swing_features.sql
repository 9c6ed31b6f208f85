DELETE FROM swing_feature WHERE swing = ?
