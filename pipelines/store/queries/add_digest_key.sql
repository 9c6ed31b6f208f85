INSERT INTO digest_key (secret) VALUES (?)
