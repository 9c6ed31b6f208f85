SELECT DISTINCT incoming.golfer
FROM incoming ANTI JOIN golfer ON incoming.golfer = golfer.code
ORDER BY ALL
