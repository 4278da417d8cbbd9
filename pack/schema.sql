-- MBTiles 1.3
CREATE TABLE metadata (name text, value text);
CREATE UNIQUE INDEX metadata_name ON metadata (name);

-- Our own tables, ignored by other readers. Rows are counted from the north
-- (XYZ) here; only tiles counts them from the south.

-- JSON documents: about, area, terms
CREATE TABLE groundsheet_document (key text PRIMARY KEY, body text NOT NULL);

-- what the job wanted, as runs in rows
CREATE TABLE groundsheet_wanted (zoom integer, row integer, first integer, last integer);

-- wanted tiles that the source said it does not have
CREATE TABLE groundsheet_hole (zoom integer, row integer, col integer, fetched text, PRIMARY KEY (zoom, row, col)) WITHOUT ROWID;

-- where each tile came from: SHA-256 of the bytes as packed, validators as sent
CREATE TABLE groundsheet_origin (zoom integer, row integer, col integer, fetched text, etag text, last_modified text, sha256 blob, recoded integer, PRIMARY KEY (zoom, row, col)) WITHOUT ROWID;

-- what is recorded under the ground: summary and GeoJSON
CREATE TABLE groundsheet_overlay (position integer PRIMARY KEY, id text NOT NULL, summary text NOT NULL, features text NOT NULL);

-- what was worked out of the records: "known" as JSON, "features" as GeoJSON
CREATE TABLE groundsheet_known (part text PRIMARY KEY, body text NOT NULL);
