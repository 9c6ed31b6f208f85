-- Consent by purpose: every yes and no with its day; the newest counts. No guardian is named.
CREATE TABLE consent (
    golfer     VARCHAR NOT NULL,
    purpose    VARCHAR NOT NULL CHECK (purpose IN ('coaching', 'norms', 'research')),
    given      BOOLEAN NOT NULL,
    decided_on DATE NOT NULL,
    guardian   BOOLEAN NOT NULL,
    PRIMARY KEY (golfer, purpose, decided_on)
);

-- What was done, by whom and when: rows are only ever added, and each holds the hash of the one
-- before it. No golfer's code stands here: a random pseudonym does, and the one table that says
-- whose it is forgets it when the golfer is erased, so that the chain stays whole.
CREATE TABLE audit_log (
    number   INTEGER PRIMARY KEY,          -- from 1, without a gap
    done_at  TIMESTAMP NOT NULL,
    who      VARCHAR NOT NULL CHECK (who <> ''),
    action   VARCHAR NOT NULL CHECK (action <> ''),
    details  VARCHAR NOT NULL,             -- JSON as text: the hash is over these very characters
    previous VARCHAR NOT NULL,
    hash     VARCHAR NOT NULL
);

CREATE TABLE golfer_pseudonym (
    golfer    VARCHAR PRIMARY KEY,
    pseudonym VARCHAR NOT NULL UNIQUE
);

-- That somebody was erased. The digest is of the code under a key of 256 random bits that is
-- printed once and kept nowhere: who holds the key can show that the receipt is theirs, and
-- nobody else can learn from it who it was.
CREATE TABLE erasure_receipt (
    receipt   VARCHAR PRIMARY KEY,
    erased_at TIMESTAMP NOT NULL,
    who       VARCHAR NOT NULL CHECK (who <> ''),
    why       VARCHAR NOT NULL CHECK (why <> ''),
    removed   JSON NOT NULL,               -- rows by table
    digest    VARCHAR NOT NULL
);

-- What an erasure did to a frozen edition.
CREATE TABLE edition_mark (
    edition     VARCHAR NOT NULL,
    receipt     VARCHAR NOT NULL,
    policy      VARCHAR NOT NULL CHECK (policy IN ('recompute', 'withdraw')),
    hash_before VARCHAR NOT NULL,
    hash_after  VARCHAR NOT NULL,
    marked_at   TIMESTAMP NOT NULL,
    PRIMARY KEY (edition, receipt)
);

-- Set while rows have been erased whose bytes may still lie in the file: whoever opens the store
-- for writing next finishes the work.
CREATE TABLE rewrite_due (since TIMESTAMP NOT NULL);
