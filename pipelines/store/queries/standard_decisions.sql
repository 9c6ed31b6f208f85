SELECT state, role, reason, decided_on, standard_hash, edition_hash, override_reason, decision_hash
FROM standard_decision WHERE standard = ? ORDER BY number
