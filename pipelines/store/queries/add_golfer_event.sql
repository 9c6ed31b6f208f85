INSERT INTO golfer_event (golfer, day, kind, note, health) VALUES (?, ?, ?, ?, ?)
RETURNING number
