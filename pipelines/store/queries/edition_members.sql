SELECT cohort_key, golfer, swings, sway_cm, thrust_cm, lift_cm, features
FROM edition_member WHERE edition = ?
