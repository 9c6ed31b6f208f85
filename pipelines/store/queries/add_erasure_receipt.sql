INSERT INTO erasure_receipt (receipt, erased_at, who, why, removed, digest)
VALUES (?, ?, ?, ?, ?, ?)
