INSERT INTO golfer_pseudonym (golfer, pseudonym) VALUES (?, ?)
