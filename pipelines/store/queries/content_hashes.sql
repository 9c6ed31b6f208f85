SELECT content_hash, code FROM swing
