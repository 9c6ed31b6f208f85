SELECT code, golfer, lab, recorded_on FROM swing WHERE club = ?
