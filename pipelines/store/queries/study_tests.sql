SELECT question, p_value, adjusted_p FROM study_test WHERE look = ? ORDER BY place
