SELECT swing, feature, value FROM swing_feature
WHERE value IS NOT NULL AND list_contains(?, feature)
  AND swing IN (SELECT code FROM swing WHERE club = ?)
