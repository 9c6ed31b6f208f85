INSERT INTO edition_member
    (edition, cohort_key, golfer, swings, sway_cm, thrust_cm, lift_cm, features)
SELECT edition, cohort_key, golfer, swings, sway_cm, thrust_cm, lift_cm, features FROM incoming
