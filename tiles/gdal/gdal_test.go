package gdal

import (
	"slices"
	"strings"
	"testing"
)

// TestFormats: what leads elsewhere is switched off, whatever GDAL has.
func TestFormats(t *testing.T) {
	got := others("Supported Formats:\n  VRT -raster- (rw+v): Virtual Raster\n  GTiff -raster- (rw+vs): GeoTIFF\n  WMS -raster- (rwvs): OGC Web Map Service\n"+
		"  STACTA -raster- (rovs): x\n  ESRI Shapefile -vector- (rw+v): y\n  PDF -raster,vector- (w+): z\n", []string{"GTiff"})
	if !slices.Equal(got, []string{"WMS", "STACTA", "ESRI Shapefile", "PDF"}) {
		t.Errorf("%q", got)
	}
	g := &Tools{skip: []string{"WMS"}, Dir: "/tmp"}
	t.Setenv("AWS_SECRET_ACCESS_KEY", "x")
	for _, c := range []Child{{}, {VRT: true}, {URL: "http://127.0.0.1:1/s/picture.tif"}} {
		text := strings.Join(g.environment(c), "\n")
		if strings.Contains(text, "AWS") || c.VRT == strings.Contains(text, "WMS,VRT") {
			t.Errorf("%+v: %s", c, text)
		}
	}
}

func TestInstall(t *testing.T) {
	for system, want := range map[string]string{"linux": "gdal-bin", "darwin": "brew install gdal", "windows": "OSGeo4W"} {
		if !strings.Contains(install(system), want) {
			t.Errorf("%s: %s", system, install(system))
		}
	}
}
