SELECT place, kind, subject, withheld, document
FROM edition_annex
WHERE edition = ?
ORDER BY place;
