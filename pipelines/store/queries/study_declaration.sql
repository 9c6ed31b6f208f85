SELECT declared_at FROM study_declaration WHERE plan_hash = ?
