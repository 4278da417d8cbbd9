// Package discover reads what a map service says of itself.
//
// [Open] makes a stated source ready for fetching: it reads the document of a
// tilejson, wmts, wms or ogc-tiles source and checks it against what the
// operator stated, opens the file of an mbtiles or folder source, and starts a
// practice source. [Describe] goes the other way: from an address or a path to
// what may be written into sources.toml.
//
// Documents come from outside and are trusted only as far as they can be verified: a tile matrix set counts as Web Mercator when its numbers are,
// not when its name is, and an address counts only on the hosts that the
// operator named.
package discover
