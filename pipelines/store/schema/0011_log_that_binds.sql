-- What the tables held after the newest act that changed them, so that rows that are only added need
-- not be hashed with all others again. The log's own lines hold the same; this is a convenience.
CREATE TABLE table_state (
    name   VARCHAR PRIMARY KEY,
    rows   BIGINT NOT NULL,
    digest VARCHAR NOT NULL
);

-- Under which rows are hashed; drawn anew by an erasure, so that digests from before tell nothing.
CREATE TABLE digest_key (secret VARCHAR NOT NULL);

-- The old state of what persons entered, by the act that changed it, so that the act can be undone.
-- Golfer, swing and content_hash say whom a row is about: with the golfer it is erased.
CREATE TABLE act_change (
    act          INTEGER NOT NULL,        -- number of its line in the log
    place        INTEGER NOT NULL,        -- order within the act, from 0
    table_name   VARCHAR NOT NULL,
    golfer       VARCHAR,
    swing        VARCHAR,
    content_hash VARCHAR,
    row_key      JSON NOT NULL,           -- columns that tell the row from the others
    old_row      JSON,                    -- NULL: there was none, it was added
    new_digest   VARCHAR,                 -- of the row as the act left it; NULL: it was taken away
    PRIMARY KEY (act, place)
);

-- Two lessons on one day are two.
CREATE SEQUENCE golfer_event_number;

CREATE TEMPORARY TABLE marked AS SELECT golfer, day, kind, note FROM golfer_event;
DROP TABLE golfer_event;

CREATE TABLE golfer_event (
    number INTEGER PRIMARY KEY DEFAULT nextval('golfer_event_number'),
    golfer VARCHAR NOT NULL,
    day    DATE NOT NULL,
    kind   VARCHAR NOT NULL CHECK (kind <> ''),
    note   VARCHAR
);

INSERT INTO golfer_event (golfer, day, kind, note)
SELECT golfer, day, kind, note FROM marked ORDER BY golfer, day, kind;

DROP TABLE marked;
