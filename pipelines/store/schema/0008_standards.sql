-- Standards: what the academy decided to ask for. The text is what the hash is taken over.
CREATE TABLE standard (
    name          VARCHAR PRIMARY KEY,
    text          VARCHAR NOT NULL,
    standard_hash VARCHAR NOT NULL,
    edition       VARCHAR NOT NULL,
    edition_hash  VARCHAR NOT NULL
);

-- Every decision, signed; each carries the hash of the one before it inside its own.
CREATE SEQUENCE standard_decision_number;

CREATE TABLE standard_decision (
    number          INTEGER PRIMARY KEY DEFAULT nextval('standard_decision_number'),
    standard        VARCHAR NOT NULL,
    state           VARCHAR NOT NULL CHECK (state IN ('in review', 'approved', 'retired')),
    role            VARCHAR NOT NULL CHECK (role <> ''),
    reason          VARCHAR NOT NULL CHECK (reason <> ''),
    decided_on      DATE NOT NULL,
    standard_hash   VARCHAR NOT NULL,
    edition_hash    VARCHAR NOT NULL,
    override_reason VARCHAR,              -- NULL: the evidence was above the floor
    decision_hash   VARCHAR NOT NULL
);

-- Reviews that were kept, for progress: one row for each golfer.
CREATE SEQUENCE standard_review_number;

CREATE TABLE standard_review (
    number        INTEGER PRIMARY KEY DEFAULT nextval('standard_review_number'),
    standard      VARCHAR NOT NULL,
    standard_hash VARCHAR NOT NULL,
    edition       VARCHAR NOT NULL,
    edition_hash  VARCHAR NOT NULL,
    held_on       DATE NOT NULL
);

CREATE TABLE standard_review_golfer (
    review  INTEGER NOT NULL,
    golfer  VARCHAR NOT NULL,
    payload JSON NOT NULL,
    PRIMARY KEY (review, golfer)
);

-- Placements that were judged, with the edition and the standard they were judged by.
CREATE SEQUENCE judged_placement_number;

CREATE TABLE judged_placement (
    number        INTEGER PRIMARY KEY DEFAULT nextval('judged_placement_number'),
    swing         VARCHAR NOT NULL,
    golfer        VARCHAR NOT NULL,
    edition       VARCHAR NOT NULL,
    edition_hash  VARCHAR NOT NULL,
    standard      VARCHAR NOT NULL,
    standard_hash VARCHAR NOT NULL,
    payload       JSON NOT NULL
);
