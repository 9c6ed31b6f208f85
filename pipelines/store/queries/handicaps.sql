SELECT golfer, since, handicap_index FROM handicap ORDER BY golfer, since
