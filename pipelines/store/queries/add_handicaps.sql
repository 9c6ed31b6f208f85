INSERT INTO handicap (golfer, since, handicap_index)
SELECT golfer, since, handicap_index FROM incoming
