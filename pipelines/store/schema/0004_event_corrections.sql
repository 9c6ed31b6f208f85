-- A person's word on when an event was. By the file's content, so that a file that was refused for
-- its events can be corrected too; every word is kept, the last one on an event counts.
CREATE SEQUENCE event_correction_number;

CREATE TABLE event_correction (
    number       INTEGER PRIMARY KEY DEFAULT nextval('event_correction_number'),
    content_hash VARCHAR NOT NULL,
    event        VARCHAR NOT NULL CHECK (event IN ('start', 'top', 'impact', 'finish')),
    time_s       DOUBLE NOT NULL CHECK (isfinite(time_s)),
    person       VARCHAR NOT NULL CHECK (person <> ''),
    reason       VARCHAR NOT NULL CHECK (reason <> ''),
    corrected_at TIMESTAMP NOT NULL
);
