// Package discover asks a map service what it is and what it has.
//
// [Open] makes a stated source ready for fetching: it reads the document of a
// tilejson, wmts, wms or ogc-tiles source and checks it against what the
// operator stated, opens the file of an mbtiles or folder source, and starts a
// practice source. [Describe] goes the other way: from an address or a path to
// what may be written into sources.toml.
//
// Documents come from outside and are believed only as far as they prove
// themselves: a tile matrix set counts as Web Mercator when its numbers are,
// not when its name is, and an address counts only on the hosts that the
// operator named.
package discover
