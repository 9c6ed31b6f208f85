INSERT INTO edition_annex (edition, place, kind, subject, withheld, document)
VALUES (?, ?, ?, ?, ?, ?);
