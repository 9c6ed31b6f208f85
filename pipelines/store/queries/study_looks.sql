SELECT l.number, l.kind, l.study, l.question, l.tests, l.looked_at, d.declared_at
FROM study_look l
LEFT JOIN study_declaration d
    ON d.plan_hash = l.plan_hash AND d.declared_at <= l.looked_at AND l.kind = 'study'
WHERE l.cohort = ?
ORDER BY l.number
