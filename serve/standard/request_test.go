package standard

import (
	"errors"
	"net/url"
	"strings"
	"testing"

	"groundsheet/tiles"
)

const getTile = "Service=WMTS&Request=GetTile&Version=1.0.0&Layer=one&Style=default&Format=image/jpeg&TileMatrixSet=WebMercatorQuad&TileMatrix=17&TileRow=11&TileCol=20"

func query(t testing.TB, text string) url.Values {
	t.Helper()
	q, err := url.ParseQuery(text)
	if err != nil {
		t.Fatal(err)
	}
	return q
}

func TestParse(t *testing.T) {
	tile := request{Tile: tiles.ID{Z: 17, X: 20, Y: 11}}
	for text, want := range map[string]request{
		getTile: tile,
		strings.ToUpper(getTile[:7]) + getTile[7:]:                                      tile,
		"tilecol=20&LAYER=one&" + getTile + "&unknown=1":                                tile, // given twice with one value; any order; what is unknown is ignored
		"token=a&token=b&" + getTile:                                                    tile,
		"service=WMTS&request=GetCapabilities":                                          {Capabilities: true},
		"SERVICE=WMTS&VERSION=1.0.0&REQUEST=GetCapabilities&ACCEPTVERSIONS=2.0.0,1.0.0": {Capabilities: true},
	} {
		got, err := invented().Parse(query(t, text))
		if err != nil || got.Tile != want.Tile || got.Capabilities != want.Capabilities || !got.Capabilities && got.Layer.ID != "one" {
			t.Errorf("%s: %+v, %v", text, got, err)
		}
	}
}

// TestParseRefuses: codes, locators and status by OGC 07-057r7, tables 21, 26 and
// 27; the status of tileOutOfRange by common practice.
func TestParseRefuses(t *testing.T) {
	with := func(old, replaced string) string {
		if !strings.Contains(getTile, old) {
			t.Fatal(old)
		}
		return strings.Replace(getTile, old, replaced, 1)
	}
	for text, want := range map[string]struct {
		code, locator string
		status        int
	}{
		"":                                     {missingParameterValue, "Service", 400},
		"service=WMTS":                         {missingParameterValue, "Request", 400},
		"service=WMTS&request=":                {missingParameterValue, "Request", 400},
		"service=WMS&request=GetCapabilities":  {invalidParameterValue, "Service", 400},
		"service=WMTS&request=GetFeatureInfo":  {operationNotSupported, "GetFeatureInfo", 501},
		"service=WMTS&request=getcapabilities": {operationNotSupported, "getcapabilities", 501}, // values keep their case
		"service=WMTS&request=GetCapabilities&acceptversions=2.0.0": {versionNegotiationFailed, "", 400},
		with("Version=1.0.0&", ""):                                  {missingParameterValue, "Version", 400},
		with("1.0.0", "1.1.0"):                                      {invalidParameterValue, "Version", 400},
		with("Layer=one", "Layer=two"):                              {invalidParameterValue, "Layer", 400},
		with("Layer=one", "Layer=one&layer=fine"):                   {invalidParameterValue, "layer", 400},
		with("Style=default", "Style=night"):                        {invalidParameterValue, "Style", 400},
		with("image/jpeg", "image/png"):                             {invalidParameterValue, "Format", 400},
		with("WebMercatorQuad", "WebMercatorQuad512"):               {invalidParameterValue, "TileMatrixSet", 400},
		with("TileMatrix=17", "TileMatrix=16"):                      {invalidParameterValue, "TileMatrix", 400},
		with("TileMatrix=17", "TileMatrix=017"):                     {invalidParameterValue, "TileMatrix", 400},
		with("TileRow=11", "TileRow=-1"):                            {invalidParameterValue, "TileRow", 400},
		with("TileRow=11", "TileRow=1e1"):                           {invalidParameterValue, "TileRow", 400},
		with("TileRow=11", "TileRow=13"):                            {tileOutOfRange, "TileRow", 400},
		with("TileRow=11", "TileRow=9"):                             {tileOutOfRange, "TileRow", 400},
		with("TileCol=20", "TileCol=26"):                            {tileOutOfRange, "TileCol", 400},
		with("TileCol=20", "TileCol=4294967316"):                    {tileOutOfRange, "TileCol", 400}, // 2³²+20
		with("TileCol=20", "TileCol=18446744073709551636"):          {tileOutOfRange, "TileCol", 400}, // 2⁶⁴+20
		with("Layer=one", "Layer=empty"):                            {invalidParameterValue, "Format", 400},
	} {
		_, err := invented().Parse(query(t, text))
		var r exceptionReport
		if !errors.As(err, &r) {
			t.Errorf("%s: %v", text, err)
			continue
		}
		if r[0].Code != want.code || r[0].Locator != want.locator || r.Status() != want.status {
			t.Errorf("%s: %+v, status %d", text, r[0], r.Status())
		}
	}
}

// TestRefusalNamesAll: whoever lacks several parameters is told of all.
func TestRefusalNamesAll(t *testing.T) {
	_, err := invented().Parse(query(t, "service=WMTS&request=GetTile&layer=<b>"))
	var r exceptionReport
	if !errors.As(err, &r) || len(r) != 7 {
		t.Fatalf("%v", err)
	}
	body, err := append(r, report(invalidParameterValue, `"><script>`, "]]></ows:ExceptionText>\x00")...).XML()
	if err != nil {
		t.Fatal(err)
	}
	doc := parse(t, body)
	for _, v := range violations(doc) {
		t.Error(v)
	}
	if got := len(doc.all("Exception")); got != 8 || doc.attrs["version"] != "1.1.0" {
		t.Errorf("%d exceptions", got)
	}
}

// FuzzParse: no query makes it fall over; what it takes lies within the limits,
// and what it refuses makes a well-formed report.
func FuzzParse(f *testing.F) {
	f.Add(getTile)
	f.Add("service=WMTS&request=GetCapabilities")
	f.Add("SERVICE=WMTS&request=<&%00=1&layer=a&layer=b")
	f.Add("service=WMTS&request=GetTile&tilerow=99999999999999999999999")
	f.Fuzz(func(t *testing.T, text string) {
		values, err := url.ParseQuery(text)
		if err != nil {
			return
		}
		q, err := invented().Parse(values)
		var r exceptionReport
		switch {
		case errors.As(err, &r):
			body, err := r.XML()
			if err != nil || len(r) == 0 || r.Status() < 400 {
				t.Fatalf("%v %v", r, err)
			}
			for _, v := range violations(parse(t, body)) {
				t.Error(v)
			}
		case err != nil:
			t.Fatalf("no refusal: %v", err)
		case !q.Capabilities:
			within := false
			for _, l := range q.Layer.Limits {
				within = within || l.Has(q.Tile)
			}
			if !within {
				t.Fatalf("%v is outside", q.Tile)
			}
		}
	})
}
