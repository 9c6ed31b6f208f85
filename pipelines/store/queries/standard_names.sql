SELECT name FROM standard ORDER BY name
