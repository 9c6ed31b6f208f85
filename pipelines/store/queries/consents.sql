SELECT golfer, purpose, given, decided_on, guardian
FROM consent ORDER BY golfer, purpose, decided_on
