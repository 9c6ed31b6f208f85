INSERT INTO standard_decision
    (standard, state, role, reason, decided_on, standard_hash, edition_hash, override_reason,
     decision_hash)
VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)
