INSERT INTO golfer_event (golfer, day, kind, note) VALUES (?, ?, ?, ?) RETURNING number
