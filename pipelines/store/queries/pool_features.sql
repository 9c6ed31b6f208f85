SELECT swing, feature, value FROM swing_feature WHERE value IS NOT NULL
