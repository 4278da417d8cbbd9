// Package drawn makes tiles of the operator's own streets, parcels, water, buildings
// and addresses: it reads the files that a source of kind drawn names, each in its
// role, and has package plainmap draw them. It answers as a tile server would, as an
// [http.RoundTripper], so that the fetcher treats such a source like any other.
//
// Files are untrusted, and read by package vector with its limits. A tile outside of
// the stated bounds, or else of the ground of all files, is a hole; within it, empty
// paper means only that the files hold nothing there.
//
// [http.RoundTripper]: https://pkg.go.dev/net/http#RoundTripper
package drawn
