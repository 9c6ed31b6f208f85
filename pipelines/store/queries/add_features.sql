INSERT INTO swing_feature (swing, feature, value, missing_reason)
SELECT swing, feature, value, missing_reason FROM incoming
