-- What an edition holds beside its bands, as documents and arrays of doubles.
CREATE TABLE edition_annex (
    edition  VARCHAR NOT NULL,
    place    INTEGER NOT NULL,            -- order within the edition, from 0
    kind     VARCHAR NOT NULL,
    subject  VARCHAR NOT NULL,
    withheld VARCHAR,                     -- why there is no finding
    document JSON NOT NULL,
    PRIMARY KEY (edition, kind, subject)
);

CREATE TABLE edition_annex_array (
    edition      VARCHAR NOT NULL,
    place        INTEGER NOT NULL,
    name         VARCHAR NOT NULL,
    shape        INTEGER[] NOT NULL,
    array_values DOUBLE[] NOT NULL,       -- row-major; NaN where there is no value
    PRIMARY KEY (edition, place, name)
);

-- Decisions of persons to leave a golfer or a swing out of norms. A withdrawn one stays.
CREATE SEQUENCE exclusion_number;

CREATE TABLE exclusion (
    number           INTEGER PRIMARY KEY DEFAULT nextval('exclusion_number'),
    golfer           VARCHAR,
    swing            VARCHAR,
    reason           VARCHAR NOT NULL CHECK (reason <> ''),
    decided_by       VARCHAR NOT NULL CHECK (decided_by <> ''),
    decided_at       TIMESTAMP NOT NULL,
    withdrawn_reason VARCHAR CHECK (withdrawn_reason <> ''),
    withdrawn_by     VARCHAR CHECK (withdrawn_by <> ''),
    withdrawn_at     TIMESTAMP,
    CHECK ((golfer IS NULL) <> (swing IS NULL))
);
