INSERT OR REPLACE INTO consent (golfer, purpose, given, decided_on, guardian)
SELECT golfer, purpose, given, decided_on, guardian FROM incoming
