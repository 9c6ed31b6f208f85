SELECT content_hash, parameters, attrition FROM edition WHERE name = ?
