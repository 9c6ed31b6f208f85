SELECT content_hash, event, time_s, person, reason FROM event_correction ORDER BY number
