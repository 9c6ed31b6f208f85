SELECT swing, feature, value, missing_reason, uncertainty
FROM swing_feature WHERE swing IN (SELECT unnest(?::VARCHAR[])) ORDER BY rowid
