UPDATE swing SET
    pelvis_method = incoming.pelvis_method,
    axes_source = incoming.axes_source,
    shot_axes = incoming.shot_axes,
    filled_share = incoming.filled_share,
    sway_cm = incoming.sway_cm,
    thrust_cm = incoming.thrust_cm,
    lift_cm = incoming.lift_cm,
    node_times_s = incoming.node_times_s,
    notices = incoming.notices,
    filtering = incoming.filtering
FROM incoming
WHERE swing.code = incoming.code AND swing.content_hash = incoming.content_hash
RETURNING swing.code
