DELETE FROM swing_event WHERE swing = ?
