-- The register of looks: what was asked of a cohort, when, and what was declared beforehand.
CREATE TABLE study_declaration (
    plan_hash   VARCHAR PRIMARY KEY,
    cohort      VARCHAR NOT NULL,
    study       VARCHAR NOT NULL,
    question    VARCHAR NOT NULL,
    plan        JSON NOT NULL,
    declared_at TIMESTAMP NOT NULL
);

CREATE SEQUENCE study_look_number;

CREATE TABLE study_look (
    number    INTEGER PRIMARY KEY DEFAULT nextval('study_look_number'),
    cohort    VARCHAR NOT NULL,
    kind      VARCHAR NOT NULL CHECK (kind IN ('study', 'export')),
    study     VARCHAR NOT NULL,
    question  VARCHAR NOT NULL,
    plan_hash VARCHAR NOT NULL,
    data_hash VARCHAR NOT NULL,            -- the same plan on the same data is the same look
    tests     INTEGER,                     -- NULL: a frame taken out, nobody knows
    looked_at TIMESTAMP NOT NULL,
    UNIQUE (cohort, kind, plan_hash, data_hash)
);

CREATE TABLE study_test (
    look       INTEGER NOT NULL,
    place      INTEGER NOT NULL,           -- order within the look, from 0
    question   VARCHAR NOT NULL,
    p_value    DOUBLE,                     -- NULL: the question could not be answered so
    adjusted_p DOUBLE,
    PRIMARY KEY (look, place)
);

-- Cohorts of features alone, from tables of elsewhere: no curves, no captures.
CREATE TABLE feature_cohort (
    name        VARCHAR PRIMARY KEY CHECK (name <> ''),
    document    JSON NOT NULL,             -- swings, golfers, units, labels, what was left out
    imported_at TIMESTAMP NOT NULL
);

CREATE TABLE feature_cohort_column (
    cohort VARCHAR NOT NULL,
    name   VARCHAR NOT NULL,               -- feature, speed or fact of the golfer
    values DOUBLE[] NOT NULL,              -- in the order of the document's swings; NaN: missing
    PRIMARY KEY (cohort, name)
);
