SELECT number FROM study_look
WHERE cohort = ? AND kind = ? AND plan_hash = ? AND data_hash = ?
