SELECT place, name, shape, array_values
FROM edition_annex_array
WHERE edition = ?
ORDER BY place, name;
