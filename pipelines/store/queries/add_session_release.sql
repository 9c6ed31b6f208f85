INSERT INTO session_release (lab, recorded_on, who, why, released_at) VALUES (?, ?, ?, ?, ?)
