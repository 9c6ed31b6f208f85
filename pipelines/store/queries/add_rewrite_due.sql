INSERT INTO rewrite_due (since) VALUES (?)
