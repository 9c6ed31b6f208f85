INSERT INTO event_correction (content_hash, event, time_s, person, reason, corrected_at)
VALUES (?, ?, ?, ?, ?, ?)
