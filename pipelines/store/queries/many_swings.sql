SELECT
    code, golfer, club, recorded_on, lab, source, content_hash, hand, rate_hz, pelvis_method,
    axes_source, shot_axes, filled_share, sway_cm, thrust_cm, lift_cm, node_times_s, notices,
    filtering
FROM swing WHERE code IN (SELECT unnest(?::VARCHAR[]))
