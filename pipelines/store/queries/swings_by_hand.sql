SELECT golfer, code, source, hand FROM swing WHERE list_contains(?, golfer) ORDER BY golfer, code
