SELECT kind, document FROM edition_evidence WHERE edition = ? ORDER BY kind
