SELECT document FROM placement WHERE golfer = ? ORDER BY number
