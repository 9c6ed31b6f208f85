INSERT OR REPLACE INTO golfer
    (code, hand, sex, birth_year, height_cm, mass_kg, professional, consents_norms)
SELECT code, hand, sex, birth_year, height_cm, mass_kg, professional, consents_norms
FROM incoming
