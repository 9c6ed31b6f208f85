SELECT name FROM edition ORDER BY built_at, name
