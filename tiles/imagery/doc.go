// Package imagery makes tiles of the operator's own pictures: GeoTIFF, JPEG 2000
// and what else GDAL reads. GDAL's programs read and warp, as child processes
// with limits; this package chooses the files, asks for blocks of tiles, and cuts
// them. It answers as a tile server would, as an [http.RoundTripper], so that the
// fetcher treats such a source like any other.
//
// Pictures are untrusted: formats that lead to other files or to the network are
// switched off in the child, a VRT is read here and written anew, and a picture
// that names files elsewhere is refused.
//
// [http.RoundTripper]: https://pkg.go.dev/net/http#RoundTripper
package imagery
