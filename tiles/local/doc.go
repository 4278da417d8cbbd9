// Package local reads the tiles of sources that lie on this machine: an MBTiles
// file, or a folder of z/x/y files. It answers as a careful tile server would
// (validators, 304, 404), as an [http.RoundTripper], so that the
// fetcher treats such a source like any other.
//
// Both are untrusted. An MBTiles file is opened read-only with nothing of its
// schema believed; a folder is never left, whatever links are in it.
package local
