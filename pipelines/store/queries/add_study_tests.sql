INSERT INTO study_test (look, place, question, p_value, adjusted_p)
SELECT look, place, question, p_value, adjusted_p FROM incoming
