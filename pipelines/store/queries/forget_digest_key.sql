DELETE FROM digest_key
