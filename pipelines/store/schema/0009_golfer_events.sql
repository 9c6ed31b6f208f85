-- What happened to a golfer between sessions and may explain a change: a lesson, an injury, a
-- new driver; in the academy's own words.
CREATE TABLE golfer_event (
    golfer VARCHAR NOT NULL,
    day    DATE NOT NULL,
    kind   VARCHAR NOT NULL CHECK (kind <> ''),
    note   VARCHAR,
    PRIMARY KEY (golfer, day, kind)
);
