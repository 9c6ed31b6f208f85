SELECT
    code, golfer, club, lab, recorded_on, source, rate_hz, pelvis_method, axes_source,
    filled_share, notices, filtering
FROM swing
ORDER BY lab, recorded_on, code
