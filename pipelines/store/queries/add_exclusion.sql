INSERT INTO exclusion (golfer, swing, reason, decided_by, decided_at)
VALUES (?, ?, ?, ?, ?);
