SELECT swing, ball_speed_mps, club_speed_mps FROM ball_speed ORDER BY swing
