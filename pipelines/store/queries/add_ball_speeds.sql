INSERT OR REPLACE INTO ball_speed (swing, ball_speed_mps, club_speed_mps)
SELECT swing, ball_speed_mps, club_speed_mps FROM incoming
