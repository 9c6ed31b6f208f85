SELECT swing, source, content_hash FROM file_outcome WHERE swing IN (SELECT code FROM swing WHERE golfer = $1)
UNION
SELECT code, source, content_hash FROM swing WHERE golfer = $1
