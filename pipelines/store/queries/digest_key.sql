SELECT secret FROM digest_key
