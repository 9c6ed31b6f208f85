INSERT INTO swing_feature (swing, feature, value, missing_reason, uncertainty)
SELECT swing, feature, value, missing_reason, uncertainty FROM incoming
