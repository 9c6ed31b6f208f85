SELECT pseudonym, golfer FROM golfer_pseudonym
