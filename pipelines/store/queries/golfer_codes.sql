SELECT code FROM golfer
