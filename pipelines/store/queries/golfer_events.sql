SELECT golfer, day, kind, note FROM golfer_event WHERE golfer = ? ORDER BY day, number
