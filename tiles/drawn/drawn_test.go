package drawn_test

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/drawn"
	"groundsheet/tiles/source"
)

func ask(t testing.TB, a *drawn.Answerer, id tiles.ID, tag string) (int, []byte, string) {
	t.Helper()
	address := strings.NewReplacer("{z}", fmt.Sprint(id.Z), "{x}", fmt.Sprint(id.X), "{y}", fmt.Sprint(id.Y)).Replace(a.Template)
	r, err := http.NewRequestWithContext(context.Background(), http.MethodGet, address, nil)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("If-None-Match", tag)
	got, err := (&http.Client{Transport: a}).Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer got.Body.Close()
	var b bytes.Buffer
	if _, err := b.ReadFrom(got.Body); err != nil {
		t.Fatal(err)
	}
	return got.StatusCode, b.Bytes(), got.Header.Get("ETag")
}

func TestLooks(t *testing.T) {
	a, err := drawn.Open(t.Context(), town(t))
	if err != nil {
		t.Fatal(err)
	}
	out := os.Getenv("GROUNDSHEET_LOOK")
	if out == "" {
		t.Skip("writes pictures to look at into the folder GROUNDSHEET_LOOK")
	}
	for _, z := range []int{14, 16, 17, 18, 19, 20} {
		first := tiles.At(-101.83, 35.21+400.0/111000, z)
		whole := image.NewRGBA(image.Rect(0, 0, 4*256, 3*256))
		for i := range uint32(12) {
			id := tiles.ID{Z: first.Z, X: first.X + i%4, Y: first.Y + i/4}
			status, data, _ := ask(t, a, id, "")
			if status != http.StatusOK {
				continue
			}
			img, err := png.Decode(bytes.NewReader(data))
			if err != nil {
				t.Fatal(err)
			}
			draw.Draw(whole, image.Rect(0, 0, 256, 256).Add(image.Pt(int(i%4)*256, int(i/4)*256)), img, image.Point{}, draw.Src)
			t.Log(id, len(data))
		}
		var b bytes.Buffer
		if err := png.Encode(&b, whole); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(out, fmt.Sprintf("z%d.png", z)), b.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
	}
}

// TestAnswers: 200 within the files' ground, 404 beyond it, 304 for the tag; the same
// bytes from another opening, in another order.
func TestAnswers(t *testing.T) {
	src := town(t)
	a, err := drawn.Open(t.Context(), src)
	if err != nil {
		t.Fatal(err)
	}
	first := tiles.At(-101.828, 35.212, 18)
	status, data, tag := ask(t, a, first, "")
	if status != http.StatusOK || tag == "" {
		t.Fatal(status, tag)
	}
	if status, data, again := ask(t, a, first, tag); status != http.StatusNotModified || len(data) > 0 || again != tag {
		t.Error(status, len(data), again)
	}
	if status, _, _ := ask(t, a, tiles.At(-101.7, 35.3, 18), ""); status != http.StatusNotFound {
		t.Error("beyond the files:", status)
	}
	src.Draw = append(src.Draw[3:], src.Draw[:3]...)
	other, err := drawn.Open(t.Context(), src)
	if err != nil {
		t.Fatal(err)
	}
	for x := range uint32(3) { // the last first: what was asked before counts for nothing
		id := tiles.ID{Z: 18, X: first.X + 2 - x, Y: first.Y}
		_, one, _ := ask(t, a, id, "")
		_, two, _ := ask(t, other, id, "")
		if !bytes.Equal(one, two) {
			t.Errorf("%v differs with the order of the files", id)
		}
	}
	if _, again, _ := ask(t, a, first, ""); !bytes.Equal(data, again) {
		t.Error("the same tile came out another way")
	}
	later := time.Now().Add(time.Hour)
	if err := os.Chtimes(src.Draw[0].File, later, later); err != nil {
		t.Fatal(err)
	}
	changed, err := drawn.Open(t.Context(), src)
	if err != nil {
		t.Fatal(err)
	}
	_, _, before := ask(t, other, first, "")
	if status, _, _ := ask(t, changed, first, before); status != http.StatusOK {
		t.Error("a file that changed kept the tag:", status)
	}
}

// TestRefused: what cannot be drawn as stated says so, with the file.
func TestRefused(t *testing.T) {
	for want, change := range map[string]func(*source.Source){
		`there is no field "STREET" for the name: it has "CLASS", "FULLNAME"`: func(s *source.Source) { s.Draw[0].Name = "STREET" },
		`no shape has the values of only`:                                     func(s *source.Source) { s.Draw[0].Only = map[string][]string{"CLASS": {"9"}} },
		`there is no field "KIND" for only`:                                   func(s *source.Source) { s.Draw[0].Only = map[string][]string{"KIND": {"9"}} },
		`no such file`:                                                        func(s *source.Source) { s.Draw[0].File += "x" },
		`has no layers to choose from`:                                        func(s *source.Source) { s.Draw[0].Layers = []string{"a"} },
	} {
		src := town(t)
		change(&src)
		if _, err := drawn.Open(t.Context(), src); err == nil || !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), "streets.geojson") {
			t.Errorf("want %q: %v", want, err)
		}
	}
}

// TestPropose: roles and names by what files are called; what nothing tells is left
// out and told.
func TestPropose(t *testing.T) {
	src := town(t)
	var draft source.Source
	for _, d := range src.Draw[1:] {
		draft.Draw = append(draft.Draw, source.Draw{File: d.File})
	}
	p, err := drawn.Propose(t.Context(), draft)
	if err != nil {
		t.Fatal(err)
	}
	got := ""
	for _, d := range p.Source.Draw {
		got += fmt.Sprintf("%s %s %s\n", filepath.Base(d.File), d.Role, d.Name)
	}
	want := "streets.geojson street FULLNAME\nparcels.geojson parcel \nbuildings.geojson building \nnumbers.geojson address NUM\nwater.geojson water \nrail.geojson rail \n"
	if got != want || p.Source.Bounds == nil || p.Source.Kind != source.KindDrawn {
		t.Errorf("%s%v", got, p.Source.Bounds)
	}
	odd := filepath.Join(filepath.Dir(src.Draw[5].File), "x.geojson")
	if err := os.Rename(src.Draw[5].File, odd); err != nil {
		t.Fatal(err)
	}
	if p, err = drawn.Propose(t.Context(), source.Source{Draw: []source.Draw{{File: odd}}}); err == nil {
		t.Errorf("%+v", p)
	}
}
