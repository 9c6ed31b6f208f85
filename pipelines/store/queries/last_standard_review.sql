SELECT number, held_on FROM standard_review
WHERE standard = ? AND standard_hash = ? AND held_on < ?
ORDER BY held_on DESC, number DESC LIMIT 1
