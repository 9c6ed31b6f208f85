SELECT name, content_hash FROM edition ORDER BY name
