package collect_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"image"
	"image/jpeg"
	"maps"
	"os"
	"path/filepath"
	"testing"
	"time"

	"groundsheet/pack/collect"
	"groundsheet/pack/fieldbook"
	"groundsheet/pack/job"
)

var noon = time.Date(2026, 11, 29, 12, 0, 0, 0, time.UTC)

// id makes an ID of a name.
func id(name string) string {
	sum := sha256.Sum256([]byte(name))
	return hex.EncodeToString(sum[:16])
}

// entry is the text of an entry in the making.
type entry map[string]any

// properties of a mark; nil takes one out.
type properties = map[string]any

// reading is the first entry of a mark, so many meters north of the middle of the job.
func reading(name string, minute, north float64, more properties) entry {
	p := properties{"kind": "reading", "utility": "water", "depth_m": 1.02, "depth_as_typed": "3 ft 4 in", "quality_level": "B", "method": "signal",
		"position": map[string]any{"from": "receiver", "kind": "RTK fixed", "satellites": 14, "stated_m": 0.03, "frame": "NAD83(2011)"}}
	maps.Copy(p, more)
	maps.DeleteFunc(p, func(_ string, v any) bool { return v == nil })
	return entry{"layout": 1, "id": id(name), "mark": id(name), "after": []string{}, "action": "write", "who": "Ann", "phone": id("phone"),
		"clock": noon.Add(time.Duration(minute * float64(time.Minute))).Format(time.RFC3339Nano), "clock_ahead_s": 0,
		"feature": map[string]any{"type": "Feature", "properties": p,
			"geometry": map[string]any{"type": "Point", "coordinates": []float64{-140.5, 40.5 + north/111_000}}}}
}

// shaped is the entry with another geometry.
func (e entry) shaped(kind string, coordinates any) entry {
	f := maps.Clone(e["feature"].(map[string]any))
	f["geometry"] = map[string]any{"type": kind, "coordinates": coordinates}
	if kind == "" {
		f["geometry"] = nil
	}
	out := maps.Clone(e)
	out["feature"] = f
	return out
}

// then is a later entry of the mark of e.
func (e entry) then(name, action string, minute float64, after ...string) entry {
	out := maps.Clone(e)
	var ids []string
	for _, a := range after {
		ids = append(ids, id(a))
	}
	out["id"], out["after"], out["action"] = id(name), ids, action
	out["clock"] = noon.Add(time.Duration(minute * float64(time.Minute))).Format(time.RFC3339Nano)
	if action != "write" {
		out["feature"], out["why"] = nil, "read over the wrong line"
	}
	return out
}

const jobText = `# the job of a test
name = "Valve 12"
number = "24-117"

[[around]]
center = "40.5,-140.5"   # the valve
radius = "100ft"

[[base]]
source = "practice"
zooms = [15, 18]
`

// site makes a job folder.
func site(t testing.TB) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "site")
	if err := os.Mkdir(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(dir, job.FileName), jobText)
	return dir
}

func write(t testing.TB, path, text string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

// add adds entries to a book, which is made when there is none.
func add(t testing.TB, path string, all ...entry) {
	t.Helper()
	b, err := fieldbook.Open(path, fieldbook.About{Name: "Valve 12", Number: "24-117", Program: "test"}, fieldbook.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	var texts [][]byte
	for _, e := range all {
		text, err := json.Marshal(e)
		if err != nil {
			t.Fatal(err)
		}
		texts = append(texts, text)
	}
	receipts, err := b.Append(t.Context(), fieldbook.Sender{Session: "s", Role: "mark"}, texts)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range receipts {
		if r.Refused != "" {
			t.Fatal(r.Refused)
		}
	}
}

// picture is a photo and the hash that names it.
func picture(t testing.TB, seed int, side int) (data []byte, hash string) {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, side, side))
	for i := range img.Pix {
		img.Pix[i] = byte(i*seed>>3 ^ i/977)
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, nil); err != nil {
		t.Fatal(err)
	}
	sum := sha256.Sum256(b.Bytes())
	return b.Bytes(), hex.EncodeToString(sum[:])
}

func addPhoto(t testing.TB, path string, data []byte, hash string) {
	t.Helper()
	b, err := fieldbook.Open(path, fieldbook.About{}, fieldbook.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	for at := 0; at < len(data); {
		piece := data[at:min(len(data), at+fieldbook.MaxPiece)]
		if _, err := b.AddPiece(t.Context(), fieldbook.Piece{Hash: hash, Type: "image/jpeg", Of: int64(len(data)), At: int64(at), Data: piece}); err != nil {
			t.Fatal(err)
		}
		at += len(piece)
	}
}

// files are all files below a folder with their bytes.
func files(t testing.TB, dir string) map[string]string {
	t.Helper()
	all := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			all[path] = "folder"
			return err
		}
		data, err := os.ReadFile(path)
		all[path] = string(data)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func run(t testing.TB, dir string, books ...string) collect.Report {
	t.Helper()
	r, err := collect.Run(t.Context(), dir, books, collect.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func marshal(t testing.TB, e entry) []byte {
	t.Helper()
	text, err := json.Marshal(e)
	if err != nil {
		t.Fatal(err)
	}
	return text
}
