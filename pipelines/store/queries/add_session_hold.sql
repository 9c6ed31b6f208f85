INSERT OR IGNORE INTO session_hold (lab, recorded_on, reason, held_at) VALUES (?, ?, ?, ?)
