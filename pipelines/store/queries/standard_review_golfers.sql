SELECT payload FROM standard_review_golfer WHERE review = ? ORDER BY golfer
