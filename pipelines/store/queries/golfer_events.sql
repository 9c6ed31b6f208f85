SELECT golfer, day, kind, note, health FROM golfer_event WHERE golfer = ? ORDER BY day, number
