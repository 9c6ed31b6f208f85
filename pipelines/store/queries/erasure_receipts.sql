SELECT receipt, erased_at, who, why, removed, digest
FROM erasure_receipt ORDER BY erased_at, receipt
