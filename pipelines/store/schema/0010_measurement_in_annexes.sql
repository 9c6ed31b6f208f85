-- What an edition knows about measurement stands among its annexes, under its hash. An edition from
-- before has none until it is built anew under another name.
DROP TABLE edition_noise;
DROP TABLE edition_lab;
