INSERT INTO standard_review_golfer (review, golfer, payload)
SELECT review, golfer, payload FROM incoming
