package imagery

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func put(t *testing.T, path, text string) string {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

const (
	head = `<VRTDataset rasterXSize="2" rasterYSize="2"><SRS>EPSG:3857</SRS><GeoTransform>0, 1, 0, 0, 0, -1</GeoTransform>`
	tail = `</VRTDataset>`
)

func band(inner string) string {
	return head + `<VRTRasterBand dataType="Byte" band="1"><ColorInterp>Gray</ColorInterp>` + inner + `</VRTRasterBand>` + tail
}

func simple(file string, relative bool) string {
	flag := map[bool]string{true: "1", false: "0"}[relative]
	return `<SimpleSource><SourceFilename relativeToVRT="` + flag + `">` + file + `</SourceFilename><SourceBand>1</SourceBand></SimpleSource>`
}

// TestVRTIsWrittenAnew: files by their whole paths, and nothing that could name
// another one.
func TestVRTIsWrittenAnew(t *testing.T) {
	dir, err := filepath.EvalSymlinks(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	a, b := put(t, filepath.Join(dir, "a & b.tif"), "II*"), put(t, filepath.Join(dir, "sub", "b.tif"), "II*")
	path := put(t, filepath.Join(dir, "m.vrt"), `<?xml version="1.0"?><!-- c -->`+band(`<Metadata domain="OVERVIEWS"><MDI key="OVERVIEW_FILE">/etc/x</MDI></Metadata>`+
		simple(" a &amp; b.tif ", true)+simple(b, false)))
	text, files, err := readVRT(path)
	if err != nil {
		t.Fatal(err)
	}
	if len(files) != 2 || files[0] != a || files[1] != b {
		t.Errorf("files %q", files)
	}
	for _, unwanted := range []string{"OVERVIEW", "/etc/x", `relativeToVRT="1"`} {
		if strings.Contains(string(text), unwanted) {
			t.Errorf("%s is left in %s", unwanted, text)
		}
	}
	for _, wanted := range []string{">" + strings.ReplaceAll(a, "&", "&amp;") + "<", ">" + b + "<", "<ColorInterp>Gray</ColorInterp>", "<SourceBand>1</SourceBand>"} {
		if !strings.Contains(string(text), wanted) {
			t.Errorf("%s is missing in %s", wanted, text)
		}
	}
}

// TestHostileVRT: nothing outside the folder, nothing that computes.
func TestHostileVRT(t *testing.T) {
	dir := t.TempDir()
	outside := put(t, filepath.Join(t.TempDir(), "secret.tif"), "II*")
	put(t, filepath.Join(dir, "good.tif"), "II*")
	put(t, filepath.Join(dir, "inner.tif"), "II*\x00 <VRTDataset rasterXSize='1'>")
	if err := os.Symlink(outside, filepath.Join(dir, "link.tif")); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct{ text, want string }{
		"elsewhere":          {band(simple(outside, false)), "no file in its own folder"},
		"climbing":           {band(simple("../"+filepath.Base(filepath.Dir(outside))+"/secret.tif", true)), "no file in its own folder"},
		"by a link":          {band(simple("link.tif", true)), "no file in its own folder"},
		"network":            {band(simple("/vsicurl/http://127.0.0.1/x.tif", false)), "no file in its own folder"},
		"network, relative":  {band(simple("/vsicurl/http://127.0.0.1/x.tif", true)), "no file in its own folder"},
		"a service":          {band(simple("WMS:http://127.0.0.1/", true)), "no file in its own folder"},
		"another driver":     {band(simple(`NETCDF:"good.tif":x`, true)), "no file in its own folder"},
		"from where it runs": {band(simple("good.tif", false)), "no file in its own folder"},
		"a VRT inside":       {band(simple("inner.tif", true)), "mosaic of mosaics"},
		"a VRT as its name":  {band(simple("&lt;VRTDataset&gt;", true)), "no file in its own folder"},
		"a folder":           {band(simple(".", true)), "is not a file"},
		"code": {head + `<VRTRasterBand dataType="Byte" band="1" subClass="VRTDerivedRasterBand"><PixelFunctionType>f</PixelFunctionType></VRTRasterBand>` + tail,
			`"subClass"`},
		"code without a class": {band(`<PixelFunctionCode>import os</PixelFunctionCode>`), `"PixelFunctionCode"`},
		"raw bytes":            {head + `<VRTRasterBand dataType="Byte" band="1" subClass="VRTRawRasterBand"><SourceFilename>/etc/passwd</SourceFilename></VRTRasterBand>` + tail, `"subClass"`},
		"a warp":               {`<VRTDataset subClass="VRTWarpedDataset"/>`, `"subClass"`},
		"open options":         {band(`<SimpleSource><OpenOptions/></SimpleSource>`), `"OpenOptions"`},
		"an entity":            {`<!DOCTYPE a [<!ENTITY e SYSTEM "/etc/passwd">]>` + band(simple("&e;", true)), "document type"},
		"cut short":            {band(simple("good.tif", true))[:150], "cannot be read"},
		"no file":              {band(""), "names 0 files"},
		"deep":                 {strings.Repeat("<MaskBand>", 30), "nested too deeply"},
	} {
		t.Run(name, func(t *testing.T) {
			_, _, err := readVRT(put(t, filepath.Join(dir, "m.vrt"), c.text))
			if !errors.Is(err, Unusable) || !strings.Contains(err.Error(), c.want) {
				t.Errorf("%v, want %s", err, c.want)
			}
		})
	}
}

func FuzzReadVRT(f *testing.F) {
	f.Add(band(simple("good.tif", true)))
	f.Add(`<VRTDataset><MaskBand>`)
	f.Add(`<VRTDataset a:b="c" xmlns:a="d">x&#1;</VRTDataset>`)
	dir := f.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "good.tif"), []byte("II*"), 0o600); err != nil {
		f.Fatal(err)
	}
	path := filepath.Join(dir, "m.vrt")
	real, err := filepath.EvalSymlinks(dir)
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		out, files, err := readVRT(path)
		if err != nil {
			return
		}
		for _, file := range files {
			if !below(real, file) {
				t.Errorf("%q is outside", file)
			}
		}
		// What was written is read as the same.
		again := put(t, filepath.Join(dir, "again.vrt"), string(out))
		if twice, _, err := readVRT(again); err != nil || string(twice) != string(out) {
			t.Errorf("%v: %q became %q", err, out, twice)
		}
	})
}
