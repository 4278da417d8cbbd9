package folder

// shelfKind is "GSST", the application id of a shelf's file.
const shelfKind = 0x47535354

// schema keeps what a plan asks for (everything but the image) together in
// tile order, so that walking a cover never touches image pages. A tile with
// no image is a hole. Equal images are found by the first bytes of their hash:
// an index of whole hashes, whose pages are all touched by every batch, costs a
// tenth of the speed of fetching. Files of before have one. Times are microseconds since 1970, UTC.
const schema = `
CREATE TABLE images (
	id   INTEGER PRIMARY KEY,
	hash BLOB NOT NULL,
	data BLOB NOT NULL
);
CREATE INDEX images_start ON images(substr(hash, 1, 8));
CREATE TABLE tiles (
	z INTEGER NOT NULL, y INTEGER NOT NULL, x INTEGER NOT NULL,
	image INTEGER REFERENCES images(id),
	hash BLOB, bytes INTEGER NOT NULL, media TEXT NOT NULL,
	source TEXT NOT NULL, fetched INTEGER NOT NULL, fresh_until INTEGER NOT NULL,
	etag TEXT NOT NULL, last_modified TEXT NOT NULL,
	no_transform INTEGER NOT NULL, -- the source forbids changing the image
	immutable INTEGER NOT NULL,    -- it does not change while fresh
	usable_until INTEGER NOT NULL, -- stale, it may stand in until then; 0 = no
	PRIMARY KEY (z, y, x)
) WITHOUT ROWID;
CREATE INDEX tiles_image ON tiles(image) WHERE image IS NOT NULL;
` + runs + ";" + spent + ";" + pace + ";"

// runs is how fast the source answered, one row a run of fetching.
const runs = `CREATE TABLE runs (ended INTEGER NOT NULL, requests INTEGER NOT NULL, micros INTEGER NOT NULL)`

// spent is what was taken of each day's budget.
const spent = `CREATE TABLE spent (day TEXT PRIMARY KEY, requests INTEGER NOT NULL)`

// pace is what the last run left to the next. While a run has the turn there
// is no row: one that ended without handing over leaves none.
const pace = `CREATE TABLE pace (one INTEGER PRIMARY KEY CHECK (one = 1), state TEXT NOT NULL)`

// shelfFile is the file of a shelf, not yet opened.
func shelfFile(path string, limits []string) *file {
	return &file{path: path, kind: shelfKind, schema: schema, pragmas: limits, upgrades: []string{
		`ALTER TABLE tiles ADD COLUMN no_transform INTEGER NOT NULL DEFAULT 0`,
		runs,
		`ALTER TABLE tiles ADD COLUMN immutable INTEGER NOT NULL DEFAULT 0;
		 ALTER TABLE tiles ADD COLUMN usable_until INTEGER NOT NULL DEFAULT 0;` + spent + ";" + pace,
		``, // images_start, in new files alone: an earlier program would not find equal images by it
	}}
}
