-- What an edition knows about measurement stands among its annexes. That of an edition from before
-- moves there; its hash was taken without it and stays.
CREATE TEMPORARY TABLE moved AS
SELECT
    edition,
    coalesce(last, -1) + row_number() OVER (PARTITION BY edition ORDER BY kind DESC, subject)
        AS place,
    kind,
    subject,
    payload
FROM (
    SELECT edition, 'noise' AS kind, club AS subject, payload FROM edition_noise
    UNION ALL
    SELECT edition, 'lab_terms', club || ', ' || lab, payload FROM edition_lab
)
LEFT JOIN (SELECT edition, max(place) AS last FROM edition_annex GROUP BY edition) USING (edition);

INSERT INTO edition_annex (edition, place, kind, subject, withheld, document)
SELECT edition, place, kind, subject, NULL, json_extract(payload, '$.document') FROM moved;

INSERT INTO edition_annex_array (edition, place, name, shape, array_values)
SELECT
    edition,
    place,
    name,
    CAST(json_extract(payload, '$.arrays."' || name || '".shape') AS INTEGER[]),
    -- through text, because JSON knows no NaN and holds it as a word
    CAST(CAST(json_extract(payload, '$.arrays."' || name || '".values') AS VARCHAR[]) AS DOUBLE[])
FROM (SELECT *, unnest(json_keys(payload, '$.arrays')) AS name FROM moved);

DROP TABLE moved;
DROP TABLE edition_noise;
DROP TABLE edition_lab;
