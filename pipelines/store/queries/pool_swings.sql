SELECT code, golfer, club, lab, recorded_on, sway_cm, thrust_cm, lift_cm FROM swing
