INSERT OR REPLACE INTO golfer_event (golfer, day, kind, note, health) VALUES (?, ?, ?, ?, ?)
