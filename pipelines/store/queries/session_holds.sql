SELECT lab, recorded_on, reason, held_at FROM session_hold ORDER BY lab, recorded_on
