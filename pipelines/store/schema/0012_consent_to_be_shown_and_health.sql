-- Two purposes more: being named, by code, on another golfer's page, and having written down what
-- concerns one's health. A CHECK cannot be altered, so the table is made anew.
CREATE TEMPORARY TABLE moved AS SELECT * FROM consent;
DROP TABLE consent;
CREATE TABLE consent (
    golfer     VARCHAR NOT NULL,
    purpose    VARCHAR NOT NULL
               CHECK (purpose IN ('coaching', 'norms', 'research', 'shown', 'health')),
    given      BOOLEAN NOT NULL,
    decided_on DATE NOT NULL,
    guardian   BOOLEAN NOT NULL,
    PRIMARY KEY (golfer, purpose, decided_on)
);
INSERT INTO consent SELECT * FROM moved;
DROP TABLE moved;

-- Whether a mark concerns health. Of marks from before, those whose words say so are found when
-- they are read.
ALTER TABLE golfer_event ADD COLUMN health BOOLEAN DEFAULT FALSE;
