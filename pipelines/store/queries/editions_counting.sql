SELECT DISTINCT edition FROM edition_member WHERE golfer = ? ORDER BY edition
