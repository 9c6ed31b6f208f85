SELECT feature, value, missing_reason FROM swing_feature WHERE swing = ? ORDER BY rowid
