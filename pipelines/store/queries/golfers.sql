SELECT code, hand, sex, birth_year, height_cm, mass_kg, professional, consents_norms
FROM golfer ORDER BY code
