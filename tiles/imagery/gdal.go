package imagery

import (
	"context"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/gdal"
)

// Unusable is the kind of fault of a picture that cannot be a source.
var Unusable = fault.Input("unusable picture")

func unusable(path, why, remedy string) error {
	return &fault.Fault{Kind: Unusable, Place: path, Detail: why, Remedy: remedy}
}

// formats are those that are read: each keeps to its own file. ENVI is what
// gdalwarp writes for us.
var formats = []string{"GTiff", "JP2OpenJPEG", "JP2ECW", "JP2KAK", "JP2MrSID", "JP2Grok", "ECW", "MrSID", "HFA", "PNG", "JPEG",
	"JPEGXL", "WEBP", "BMP", "GIF", "BIGGIF", "HEIF", "ENVI"}

func openGDAL(ctx context.Context) (*gdal.Tools, error) {
	return gdal.Open(ctx, gdal.Needs{
		Programs: []string{"gdalinfo", "gdalwarp", "gdaltransform"}, Lister: "gdalinfo",
		Purpose: "pictures of your own are read", Formats: formats,
	})
}
