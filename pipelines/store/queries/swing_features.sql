SELECT feature, value, missing_reason, uncertainty FROM swing_feature WHERE swing = ? ORDER BY rowid
