-- What stands beside an edition's numbers and explains them: attrition, exclusions, who is missing.
CREATE TABLE edition_evidence (
    edition  VARCHAR NOT NULL,
    kind     VARCHAR NOT NULL,
    document JSON NOT NULL,
    PRIMARY KEY (edition, kind)
);
