SELECT golfer, swing, reason, decided_by, decided_at, withdrawn_reason, withdrawn_by, withdrawn_at
FROM exclusion
ORDER BY number;
