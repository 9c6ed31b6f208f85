DELETE FROM handicap WHERE golfer IN (SELECT code FROM incoming)
