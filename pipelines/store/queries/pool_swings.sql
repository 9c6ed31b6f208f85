SELECT
    code, golfer, club, lab, recorded_on, sway_cm, thrust_cm, lift_cm,
    greatest(filled_share[1], filled_share[2], filled_share[3]) AS filled_share
FROM swing
