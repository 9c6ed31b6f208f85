SELECT event, time_s, person, reason FROM event_correction WHERE content_hash = ? ORDER BY number
