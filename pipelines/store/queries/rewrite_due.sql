SELECT count(*) FROM rewrite_due
