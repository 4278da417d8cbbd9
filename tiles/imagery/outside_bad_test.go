//go:build outside

package imagery_test

import (
	"context"
	"encoding/binary"
	"errors"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/imagery"
	"groundsheet/tiles/source"
)

// refuses opens a source and asks for all its ground; what is refused, now or
// then, is returned. Nothing may stay behind.
func refuses(t *testing.T, src source.Source) error {
	t.Helper()
	scratch := t.TempDir()
	t.Setenv("TMPDIR", scratch)
	defer func() {
		t.Helper()
		if left, _ := os.ReadDir(scratch); len(left) > 0 {
			t.Errorf("left behind: %v", left)
		}
	}()
	ctx, stop := context.WithTimeout(t.Context(), time.Minute)
	defer stop()
	src.Name, src.Kind, src.TileSize = "own", source.KindRaster, 256
	a, err := imagery.Open(ctx, src, nil)
	if err != nil {
		return err
	}
	defer a.Close()
	p, err := imagery.Propose(ctx, src, nil)
	if err != nil {
		return err
	}
	l := p.Source.Bounds.Limit(p.Source.Zooms.Max)
	for _, id := range []tiles.ID{{X: l.MinCol, Y: l.MinRow}, {X: l.MaxCol, Y: l.MaxRow}} {
		id.Z = uint32(l.Zoom)
		req, _ := http.NewRequestWithContext(ctx, http.MethodGet, "http://imagery.invalid/"+id.String(), nil)
		r, err := a.RoundTrip(req)
		if err != nil {
			return err
		}
		r.Body.Close()
	}
	return nil
}

func put(t *testing.T, path string, data []byte) string {
	t.Helper()
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func read(t *testing.T, path string) []byte {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// TestOutsideBadFiles: each is refused with a message that says what is wrong.
func TestOutsideBadFiles(t *testing.T) {
	plain := invented(t, false)
	whole := translate(t, plain, "whole.tif", append(utm, "-co", "TILED=YES", "-co", "COMPRESS=DEFLATE")...)
	dir, other := t.TempDir(), t.TempDir()
	data := read(t, whole)
	put(t, filepath.Join(other, "secret.tif"), data)
	flipped := append([]byte{}, data...)
	for i := len(flipped) / 2; i < len(flipped)/2+4000; i++ {
		flipped[i] ^= 0x5a
	}
	leads := filepath.Join(dir, "leads.tif")
	run(t, "gdal_translate", append(append([]string{"-q"}, utm...), "-mo", "x=1", plain, leads)...)
	overview(t, leads, filepath.Join(other, "secret.tif"))
	vrt := `<VRTDataset rasterXSize="600" rasterYSize="600"><SRS>EPSG:26915</SRS><GeoTransform>480000, 0.5, 0, 4980300, 0, -0.5</GeoTransform>` +
		bandsOf(filepath.Join(other, "secret.tif")) + `</VRTDataset>`
	sixteen := translate(t, invented(t, true), "16.tif", utm...)
	for name, c := range map[string]struct {
		src  source.Source
		want string
	}{
		"no such file":            {source.Source{File: filepath.Join(dir, "none.tif")}, "no such file"},
		"no coordinate system":    {source.Source{File: translate(t, plain, "bare.tif", "-a_ullr", "480000", "4980300", "480300", "4980000")}, "which coordinate system"},
		"no place":                {source.Source{File: translate(t, plain, "nowhere.tif")}, "where on the ground"},
		"a wrong system":          {source.Source{File: translate(t, plain, "wrong.tif", "-a_ullr", "480000", "4980300", "480300", "4980000", "-a_srs", "EPSG:4326")}, "makes no sense"},
		"the beginning alone":     {source.Source{File: put(t, filepath.Join(dir, "start.tif"), data[:100])}, "cannot be read"},
		"truncated":               {source.Source{File: put(t, filepath.Join(dir, "half.tif"), data[:len(data)/2])}, "half.tif"},
		"damaged":                 {source.Source{File: put(t, filepath.Join(dir, "flipped.tif"), flipped)}, "flipped.tif"},
		"text":                    {source.Source{File: put(t, filepath.Join(dir, "text.tif"), []byte("not a picture at all"))}, "not recognized"},
		"an empty file":           {source.Source{File: put(t, filepath.Join(dir, "empty.tif"), nil)}, "cannot be read"},
		"an empty folder":         {source.Source{File: t.TempDir()}, "0 pictures"},
		"16 bits without a scale": {source.Source{File: sixteen}, "what becomes black"},
		"bands it has not":        {source.Source{File: whole, Raster: source.Raster{Bands: []int{1, 2, 9}}}, "names 9"},
		"leads to another file":   {source.Source{File: leads}, "leads to another file"},
		"VRT to another file":     {source.Source{File: put(t, filepath.Join(dir, "m.vrt"), []byte(vrt))}, "no file in its own folder"},
		"VRT named as a picture":  {source.Source{File: put(t, filepath.Join(dir, "m.tif"), []byte(vrt))}, "no file in its own folder"},
		"a service":               {source.Source{File: put(t, filepath.Join(dir, "wms.tif"), []byte(`<GDAL_WMS><Service name="TMS"><ServerUrl>http://127.0.0.1/</ServerUrl></Service></GDAL_WMS>`))}, "not recognized"},
		"a bomb of one block":     {source.Source{File: put(t, filepath.Join(dir, "bomb.tif"), bomb(60000, 60000))}, "read whole"},
		"a name of GDAL's":        {source.Source{File: "/vsizip/" + whole}, "no such file"},
		"a name like an option":   {source.Source{File: put(t, filepath.Join(dir, "-co"), []byte("x"))}, "not recognized"},
		"a system nobody knows":   {source.Source{File: translate(t, plain, "b.tif", "-a_ullr", "480000", "4980300", "480300", "4980000"), CRS: "EPSG:999999"}, "correct crs"},
	} {
		t.Run(name, func(t *testing.T) {
			err := refuses(t, c.src)
			var f *fault.Fault
			if !errors.As(err, &f) || !errors.Is(err, imagery.Unusable) || !strings.Contains(err.Error(), c.want) || f.Remedy == "" {
				t.Errorf("%v, want %s", err, c.want)
			}
			t.Log(err)
		})
	}
	odd := put(t, filepath.Join(dir, "-of;$(x) '.tif"), data)
	if err := refuses(t, source.Source{File: odd}); err != nil {
		t.Errorf("a good picture with an odd name: %v", err)
	}
}

// overview writes into a GeoTIFF that another file is its overview: GDAL's own
// metadata tag says so, in XML.
func overview(t *testing.T, path, target string) {
	t.Helper()
	data := read(t, path)
	// Tag 42112 holds the metadata; its text is replaced by one appended at the end.
	text := `<GDALMetadata><Item name="OVERVIEW_FILE" domain="OVERVIEWS">` + target + "</Item></GDALMetadata>\x00"
	le := binary.LittleEndian
	at := int(le.Uint32(data[4:]))
	for i := range int(le.Uint16(data[at:])) {
		entry := data[at+2+12*i:]
		if le.Uint16(entry) == 42112 {
			le.PutUint32(entry[4:], uint32(len(text)))
			le.PutUint32(entry[8:], uint32(len(data)))
			put(t, path, append(data, text...))
			return
		}
	}
	t.Fatal("no metadata tag")
}

// bomb is a GeoTIFF of a few hundred bytes whose only block has as many pixels as
// are named.
func bomb(width, height uint32) []byte {
	le := binary.LittleEndian
	type tag struct {
		id, kind uint16
		count    uint32
		value    uint32
	}
	tags := []tag{{256, 4, 1, width}, {257, 4, 1, height}, {258, 3, 1, 8}, {259, 3, 1, 8}, {262, 3, 1, 1}, {277, 3, 1, 1},
		{322, 4, 1, width}, {323, 4, 1, height}, {324, 4, 1, 8}, {325, 4, 1, 8}, {33550, 12, 3, 0}, {33922, 12, 6, 0}, {34735, 3, 16, 0}}
	out := append([]byte("II*\x00"), make([]byte, 12)...)
	le.PutUint32(out[4:], 16)
	ifd := 2 + 12*len(tags) + 4
	data := uint32(16 + ifd)
	var extra []byte
	put := func(i int, b []byte) { tags[i].value = data + uint32(len(extra)); extra = append(extra, b...) }
	doubles := func(v ...uint64) (b []byte) {
		for _, x := range v {
			b = le.AppendUint64(b, x)
		}
		return b
	}
	one, east, north := uint64(0x3fb999999999999a), uint64(0x411d4c0000000000), uint64(0x4152ff7000000000) // 0.1, 480000, 4980160
	put(10, doubles(one, one, 0))
	put(11, doubles(0, 0, 0, east, north, 0))
	var keys []byte
	for _, v := range []uint16{1, 1, 0, 3, 1024, 0, 1, 1, 1025, 0, 1, 1, 3072, 0, 1, 26915} {
		keys = le.AppendUint16(keys, v)
	}
	put(12, keys)
	out = le.AppendUint16(out, uint16(len(tags)))
	for _, t := range tags {
		out = le.AppendUint16(le.AppendUint16(out, t.id), t.kind)
		out = le.AppendUint32(le.AppendUint32(out, t.count), t.value)
	}
	return append(append(out, 0, 0, 0, 0), extra...)
}

// TestOutsideNoNetwork: whatever a picture names, the child asks nobody.
func TestOutsideNoNetwork(t *testing.T) {
	asked := make(chan string, 100)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	server := &http.Server{Handler: http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) { asked <- r.URL.Path })}
	go server.Serve(l)
	defer server.Close()
	leads := filepath.Join(t.TempDir(), "leads.tif")
	run(t, "gdal_translate", append(append([]string{"-q"}, utm...), "-mo", "x=1", invented(t, false), leads)...)
	overview(t, leads, "/vsicurl/http://"+l.Addr().String()+"/secret.tif")
	if err := refuses(t, source.Source{File: leads}); err != nil && !errors.Is(err, imagery.Unusable) {
		t.Error(err)
	}
	select {
	case path := <-asked:
		t.Errorf("the child asked for %s", path)
	default:
	}
}
