SELECT lab, recorded_on, who, why, released_at FROM session_release ORDER BY lab, recorded_on
