SELECT code, golfer, club FROM swing
