package vector

import (
	"errors"
	"strings"
	"testing"

	"groundsheet/tiles/gdal"
)

func TestWithoutGDAL(t *testing.T) {
	t.Setenv("PATH", t.TempDir())
	_, _, err := Read(File{Name: "a.fgb", Data: []byte("fgb\x03")}, Anything)
	if !errors.Is(err, gdal.Missing) || !strings.Contains(err.Error(), ".fgb files are read by the programs of GDAL, and ogr2ogr is not installed") {
		t.Errorf("%v", err)
	}
}

func TestCommonFormsThatAreNotRead(t *testing.T) {
	for name, want := range map[string]string{"a.dwg": "ASCII DXF", "a.gdb": "into one .zip", "a.xlsx": "as CSV", "a.doc": "give one of"} {
		_, _, err := Read(File{Name: name, Data: []byte("x")}, Anything)
		refusal(t, err, RuleFormat, "file", want)
	}
}

func TestSideFilesGoWithTheirFile(t *testing.T) {
	if got := strings.Join(SideFiles(".TAB"), " "); got != ".dat .map .id .ind" {
		t.Error(got)
	}
	if SideFiles(".gpkg") != nil || len(SideFiles(".shp")) != 4 {
		t.Error(SideFiles(".gpkg"), SideFiles(".shp"))
	}
}
