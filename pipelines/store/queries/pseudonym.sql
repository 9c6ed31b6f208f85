SELECT pseudonym FROM golfer_pseudonym WHERE golfer = ?
