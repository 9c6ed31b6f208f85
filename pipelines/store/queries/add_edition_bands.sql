INSERT INTO edition_band
    (edition, cohort_key, percent, sway_cm, thrust_cm, lift_cm, sway_low_cm, thrust_low_cm,
     lift_low_cm, sway_high_cm, thrust_high_cm, lift_high_cm)
SELECT
    edition, cohort_key, percent, sway_cm, thrust_cm, lift_cm, sway_low_cm, thrust_low_cm,
    lift_low_cm, sway_high_cm, thrust_high_cm, lift_high_cm
FROM incoming
