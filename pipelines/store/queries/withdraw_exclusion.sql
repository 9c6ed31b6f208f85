UPDATE exclusion
SET withdrawn_reason = ?, withdrawn_by = ?, withdrawn_at = ?
WHERE golfer IS NOT DISTINCT FROM ? AND swing IS NOT DISTINCT FROM ? AND withdrawn_at IS NULL
RETURNING number;
