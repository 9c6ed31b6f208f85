INSERT INTO edition_annex_array (edition, place, name, shape, array_values)
SELECT edition, place, name, shape, array_values FROM incoming;
