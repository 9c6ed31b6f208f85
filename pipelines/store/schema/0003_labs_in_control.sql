-- What a swing knows about its own error, which the first store did not keep.
ALTER TABLE swing ADD COLUMN filtering JSON;             -- NULL: stored before it was kept
ALTER TABLE swing_event ADD COLUMN confidence VARCHAR DEFAULT 'high';
UPDATE swing_event SET confidence = 'medium' WHERE stand_in;
ALTER TABLE swing_feature ADD COLUMN uncertainty DOUBLE; -- NULL: not computed

-- Sessions (a day in a lab) held back from norms, and a person's word that lets them in again.
CREATE TABLE session_hold (
    lab         VARCHAR NOT NULL,
    recorded_on DATE NOT NULL,
    reason      VARCHAR NOT NULL,
    held_at     TIMESTAMP NOT NULL,
    PRIMARY KEY (lab, recorded_on)
);

CREATE TABLE session_release (
    lab         VARCHAR NOT NULL,
    recorded_on DATE NOT NULL,
    who         VARCHAR NOT NULL CHECK (who <> ''),
    why         VARCHAR NOT NULL CHECK (why <> ''),
    released_at TIMESTAMP NOT NULL,
    PRIMARY KEY (lab, recorded_on)
);

-- What an edition knows about measurement: its noise budget by club, its labs against the
-- reference lab. Arrays stand inside the JSON, doubles written so that they come back exactly.
CREATE TABLE edition_noise (
    edition VARCHAR NOT NULL,
    club    VARCHAR NOT NULL,
    payload JSON NOT NULL,
    PRIMARY KEY (edition, club)
);

CREATE TABLE edition_lab (
    edition VARCHAR NOT NULL,
    lab     VARCHAR NOT NULL,
    club    VARCHAR NOT NULL,
    payload JSON NOT NULL,
    PRIMARY KEY (edition, lab, club)
);
