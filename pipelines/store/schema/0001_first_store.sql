-- The first store. No foreign keys: DuckDB cannot rebuild a table that another one points at,
-- and later migrations must be able to. What points where is checked in code before inserting.
-- A CHECK cannot look into an ARRAY, so that curves are finite is checked in code, too.

CREATE TABLE schema_version (
    version         INTEGER PRIMARY KEY,
    name            VARCHAR NOT NULL,
    applied_at      TIMESTAMP NOT NULL,   -- UTC, as every TIMESTAMP here
    duckdb_version  VARCHAR NOT NULL,
    storage_version VARCHAR NOT NULL
);

CREATE TABLE setting (
    key   VARCHAR PRIMARY KEY,
    value JSON NOT NULL
);

-- People, by code only.

CREATE TABLE golfer (
    code           VARCHAR PRIMARY KEY CHECK (code <> ''),
    hand           VARCHAR NOT NULL CHECK (hand IN ('right', 'left')),
    sex            VARCHAR CHECK (sex IN ('female', 'male')),
    birth_year     INTEGER,
    height_cm      DOUBLE CHECK (isfinite(height_cm) AND height_cm > 0),
    mass_kg        DOUBLE CHECK (isfinite(mass_kg) AND mass_kg > 0),
    professional   BOOLEAN NOT NULL,
    consents_norms BOOLEAN NOT NULL
);

-- DOUBLE, not DECIMAL: quantiles of a DECIMAL are rounded to its scale.
CREATE TABLE handicap (
    golfer         VARCHAR NOT NULL,
    since          DATE NOT NULL,
    handicap_index DOUBLE NOT NULL CHECK (handicap_index BETWEEN -10 AND 54),
    PRIMARY KEY (golfer, since)
);

-- Swings: one row each; curves in single precision (steps of at most 4e-6 cm below 64 cm).

CREATE TABLE swing (
    code          VARCHAR PRIMARY KEY CHECK (code <> ''),
    golfer        VARCHAR NOT NULL,
    club          VARCHAR NOT NULL,
    recorded_on   DATE NOT NULL,
    lab           VARCHAR NOT NULL,
    source        VARCHAR NOT NULL,
    content_hash  VARCHAR NOT NULL UNIQUE,
    hand          VARCHAR NOT NULL CHECK (hand IN ('right', 'left')),
    rate_hz       DOUBLE NOT NULL CHECK (isfinite(rate_hz) AND rate_hz > 0),
    pelvis_method VARCHAR NOT NULL,
    axes_source   VARCHAR NOT NULL,
    shot_axes     DOUBLE[9] NOT NULL,     -- rows: toward the target, toward the ball, up
    filled_share  DOUBLE[3] NOT NULL,     -- by phase
    sway_cm       FLOAT[301] NOT NULL,
    thrust_cm     FLOAT[301] NOT NULL,
    lift_cm       FLOAT[301] NOT NULL,
    node_times_s  DOUBLE[301] NOT NULL,
    notices       JSON NOT NULL
);

CREATE TABLE swing_event (
    swing         VARCHAR NOT NULL,
    event         VARCHAR NOT NULL
                  CHECK (event IN ('address', 'start', 'top', 'impact', 'finish')),
    time_s        DOUBLE NOT NULL CHECK (isfinite(time_s)),
    method        VARCHAR NOT NULL,
    stand_in      BOOLEAN NOT NULL,
    uncertainty_s DOUBLE NOT NULL CHECK (isfinite(uncertainty_s))
);

CREATE TABLE swing_feature (
    swing          VARCHAR NOT NULL,
    feature        VARCHAR NOT NULL,
    value          DOUBLE CHECK (isfinite(value)),
    missing_reason VARCHAR,
    CHECK ((value IS NULL) <> (missing_reason IS NULL))
);

CREATE TABLE ball_speed (
    swing          VARCHAR PRIMARY KEY,
    ball_speed_mps DOUBLE NOT NULL CHECK (isfinite(ball_speed_mps) AND ball_speed_mps > 0),
    club_speed_mps DOUBLE CHECK (isfinite(club_speed_mps) AND club_speed_mps > 0)
);

-- What was collected, and what became of each file.

CREATE TABLE collect_run (
    run         INTEGER PRIMARY KEY,
    lab         VARCHAR NOT NULL,
    started_at  TIMESTAMP NOT NULL,
    finished_at TIMESTAMP                 -- NULL: still going, or interrupted
);

CREATE TABLE file_outcome (
    run          INTEGER NOT NULL,
    place        INTEGER NOT NULL,        -- order within the run, from 0
    source       VARCHAR NOT NULL,
    lab          VARCHAR NOT NULL,
    status       VARCHAR NOT NULL
                 CHECK (status IN ('accepted', 'accepted_with_warnings', 'rejected', 'duplicate')),
    code         VARCHAR NOT NULL,
    message      VARCHAR NOT NULL,
    swing        VARCHAR,
    content_hash VARCHAR NOT NULL,
    PRIMARY KEY (run, place)
);

-- Editions: double precision throughout, so that the content hash can be verified.

CREATE TABLE edition (
    name         VARCHAR PRIMARY KEY CHECK (name <> ''),
    content_hash VARCHAR NOT NULL,
    parameters   JSON NOT NULL,
    attrition    JSON NOT NULL,
    built_at     TIMESTAMP NOT NULL
);

CREATE TABLE edition_cell (
    edition       VARCHAR NOT NULL,
    place         INTEGER NOT NULL,       -- order within the edition, from 0
    cohort_key    VARCHAR NOT NULL,
    definition    JSON NOT NULL,
    feature_names VARCHAR[] NOT NULL,     -- order of edition_member.features
    withheld      VARCHAR,                -- why the cell has no bands
    golfers       INTEGER,                -- counted; of an edition from elsewhere, without members
    swings        INTEGER,
    confidence    DOUBLE,                 -- these two: of the bands, NULL where there are none
    percents      DOUBLE[],
    PRIMARY KEY (edition, cohort_key)
);

-- One row per golfer and cell, so that a placement can leave its own golfer out.
CREATE TABLE edition_member (
    edition    VARCHAR NOT NULL,
    cohort_key VARCHAR NOT NULL,
    golfer     VARCHAR NOT NULL,
    swings     INTEGER NOT NULL,
    sway_cm    DOUBLE[301] NOT NULL,
    thrust_cm  DOUBLE[301] NOT NULL,
    lift_cm    DOUBLE[301] NOT NULL,
    features   DOUBLE[] NOT NULL          -- NaN: no swing of the golfer gives the feature
);

-- NaN where the number of golfers supports no such percentile.
CREATE TABLE edition_band (
    edition        VARCHAR NOT NULL,
    cohort_key     VARCHAR NOT NULL,
    percent        DOUBLE NOT NULL,
    sway_cm        DOUBLE[301] NOT NULL,
    thrust_cm      DOUBLE[301] NOT NULL,
    lift_cm        DOUBLE[301] NOT NULL,
    sway_low_cm    DOUBLE[301] NOT NULL,
    thrust_low_cm  DOUBLE[301] NOT NULL,
    lift_low_cm    DOUBLE[301] NOT NULL,
    sway_high_cm   DOUBLE[301] NOT NULL,
    thrust_high_cm DOUBLE[301] NOT NULL,
    lift_high_cm   DOUBLE[301] NOT NULL
);

CREATE TABLE edition_feature_band (
    edition    VARCHAR NOT NULL,
    cohort_key VARCHAR NOT NULL,
    place      INTEGER NOT NULL,          -- order of the feature in the bands, from 0
    feature    VARCHAR NOT NULL,
    golfers    INTEGER NOT NULL,
    percent    DOUBLE NOT NULL,
    value      DOUBLE NOT NULL,
    low        DOUBLE NOT NULL,
    high       DOUBLE NOT NULL
);

CREATE SEQUENCE placement_number;

CREATE TABLE placement (
    number       INTEGER PRIMARY KEY DEFAULT nextval('placement_number'),
    swing        VARCHAR NOT NULL,
    golfer       VARCHAR NOT NULL,
    edition      VARCHAR NOT NULL,
    edition_hash VARCHAR NOT NULL,
    cohort_key   VARCHAR NOT NULL,
    document     JSON NOT NULL
);
