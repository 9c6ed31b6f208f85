SELECT DISTINCT golfer FROM golfer_event ORDER BY golfer
