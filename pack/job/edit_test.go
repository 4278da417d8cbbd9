package job

import (
	"bytes"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"groundsheet/tiles/tomledit"
)

// byHand writes jobs as people do, and keeps where each value stands.
type byHand struct {
	*rand.Rand
	strings.Builder
	eol    string
	values []valueByHand
}

type valueByHand struct {
	key      string
	from, to int
	next     any // another value that can stand there
	text     string
}

func (w *byHand) pick(of ...string) string { return of[w.IntN(len(of))] }

func (w *byHand) remark() {
	for w.IntN(3) == 0 {
		w.WriteString(w.pick("", "  ", "# as told by phone", "\t# margin = \"9ft\"", "#[[base]]", "# 'odd\" # text") + w.eol)
	}
}

// key writes a key and one of its values; next is another value as given and as written.
func (w *byHand) key(table, key string, next any, text string, values ...string) {
	w.remark()
	w.WriteString(w.pick("", "", "  ", "\t") + w.pick(key, key, `"`+key+`"`, "'"+key+"'") + w.pick(" = ", "=", "\t=  "))
	from := w.Len()
	w.WriteString(strings.ReplaceAll(w.pick(values...), "\n", w.eol))
	w.values = append(w.values, valueByHand{table + key, from, w.Len(), next, text})
	w.WriteString(w.pick("", "", "  ", "   # stated", "\t#") + w.eol)
}

func jobByHand(seed uint64) *byHand {
	w := &byHand{Rand: rand.New(rand.NewPCG(seed, 15)), eol: "\n"}
	if w.IntN(3) == 0 {
		w.eol = "\r\n"
	}
	maybe := func(write func()) {
		if w.IntN(2) == 0 {
			write()
		}
	}
	w.key("", "name", `Pit "B"`, `'Pit "B"'`, `"Elm St"`, `'Elm St'`, `"""Elm St"""`, "\"\"\"\nElm # St\"\"\"", `"Ü \u00e9"`)
	maybe(func() { w.key("", "number", "9", `"9"`, `"24-117"`, `''`) })
	maybe(func() { w.key("", "margin", "75ft", `"75ft"`, `"50ft"`, `'15 m'`, `"3'5\""`) })
	maybe(func() { w.key("", "units", "metric", `"metric"`, `"us"`, `'us'`) })
	maybe(func() { w.key("", "invented", true, `true`, `false`) })
	maybe(func() { w.key("", "depth_slope", 0.3, `0.3`, `0.25`, `1e-1`, `2`) })
	maybe(func() {
		w.key("", "expected", []any{}, "[]", `["gas"]`, "[\n  \"gas\", # told\n  'water',\n]", `[ "gas" , "water" ]`)
		w.values = w.values[:len(w.values)-1] // as a whole its comments may go
	})
	w.key("", "area", []any{"c.kml"}, `["c.kml"]`, `["a.geojson"]`)
	for i := range w.IntN(3) {
		w.WriteString(w.eol + w.pick("[[around]]", "[[ around ]]  # a valve", " [[around]]") + w.eol)
		table := fmt.Sprintf("around[%d].", i)
		w.key(table, "center", "41,-105", `"41,-105"`, `"40,-105"`, `'13TDE9894529136'`)
		w.key(table, "radius", "9m", `"9m"`, `"80ft"`, `'1/2 mi'`)
	}
	w.WriteString(w.pick("", w.eol, "# the county's"+w.eol) + "[[base]]" + w.eol)
	w.key("base[0].", "source", "state", `"state"`, `"county"`)
	maybe(func() { w.key("base[0].", "zooms", []any{15, 20}, `[15, 20]`, `[14, 21]`) })
	maybe(func() {
		w.WriteString(w.pick("[ticket]", "[\"ticket\"]") + w.eol)
		w.key("ticket.", "valid_until", "2026-12-24", "2026-12-24", "2026-12-12")
		w.key("ticket.", "number", "X", `"X"`, `"A1"`)
	})
	for i := range w.IntN(3) {
		w.WriteString("[[overlay]]" + w.eol)
		table := fmt.Sprintf("overlay[%d].", i)
		w.key(table, "file", "z.csv", `"z.csv"`, `"w.geojson"`)
		w.key(table, "utility", "sewer", `"sewer"`, `"water"`, `'gas'`)
		maybe(func() { w.key(table, "recorded", "1999-01-01", "1999-01-01", "1998-05-01", "2001-02-03") })
	}
	w.remark()
	return w
}

// TestOneValueOfAHandWrittenJob: a job written in any way, read, with one value changed:
// all else is the same, to the byte.
func TestOneValueOfAHandWrittenJob(t *testing.T) {
	for seed := range uint64(1500) {
		w := jobByHand(seed)
		text := w.String()
		before, err := Parse([]byte(text), "site")
		if err != nil {
			t.Fatalf("seed %d: %v\n%s", seed, err, text)
		}
		v := w.values[w.IntN(len(w.values))]
		got, err := Edit([]byte(text), "site", Change{Path: v.key, Value: v.next})
		want := text[:v.from] + v.text + text[v.to:]
		if v.text == `["c.kml"]` { // one item of a list is exchanged for another
			want = text[:v.from] + strings.Replace(text[v.from:v.to], `"a.geojson"`, `"c.kml"`, 1) + text[v.to:]
		}
		if strings.Contains(v.text, "[15") {
			want = text[:v.from] + strings.NewReplacer("14", "15", "21", "20").Replace(text[v.from:v.to]) + text[v.to:]
		}
		if err != nil || string(got) != want {
			t.Fatalf("seed %d, %s: %v\n%s\nis now\n%s", seed, v.key, err, text, got)
		}
		after, err := Parse(got, "site")
		if err != nil || fmt.Sprint(after) == fmt.Sprint(before) && !strings.HasPrefix(v.key, "ticket") {
			t.Fatalf("seed %d, %s: %v", seed, v.key, err)
		}
	}
}

// TestUnknownKeysAreTold: a key that is not known is told with its line, and stays
// until it is taken out.
func TestUnknownKeysAreTold(t *testing.T) {
	text := strings.Replace(statedJob, "[[base]]", "colour = \"red\" # mine\n\n[[base]]", 1)
	_, err := Edit([]byte(text), "site", Change{Path: "margin", Value: "60ft"})
	if err == nil || !strings.Contains(err.Error(), `line 6: the key "colour" is not known`) {
		t.Error(err)
	}
	got, err := Edit([]byte(text), "site", Change{Path: "colour"})
	if err != nil || string(got) != strings.Replace(text, "colour = \"red\" # mine\n", "", 1) {
		t.Errorf("%v\n%s", err, got)
	}
}

func TestEditRefused(t *testing.T) {
	for says, c := range map[string]Change{
		`line 4: margin: "50" has no unit`: {Path: "margin", Value: "50"}, "name is empty": {Path: "name", Value: ""},
		"no area": {Path: "area"}, `"tolernace" is not known`: {Path: "tolernace", Value: "1ft"}, "names no value": {Path: "a b", Value: 1},
	} {
		if _, err := Edit([]byte(statedJob), "site", c); !errors.Is(err, Invalid) || !strings.Contains(err.Error(), says) {
			t.Errorf("want %q: %v", says, err)
		}
	}
}

func TestRewrite(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, FileName)
	if err := os.WriteFile(path, []byte(statedJob), 0o600); err != nil {
		t.Fatal(err)
	}
	link := filepath.Join(t.TempDir(), FileName)
	err := Rewrite(dir, "a test", func([]byte) ([]Change, error) {
		_, err := Lock(dir, "a second one")
		if !errors.Is(err, Locked) {
			t.Error(err)
		}
		return []Change{{Path: "ticket", Value: tomledit.Table{{Key: "number", Value: "A1"}, {Key: "valid_until", Value: "2026-12-12"}}}}, nil
	})
	data, _ := os.ReadFile(path)
	if err != nil || string(data) != statedJob+"\n[ticket]\nnumber = \"A1\"\nvalid_until = 2026-12-12\n" {
		t.Errorf("%v\n%s", err, data)
	}
	if info, _ := os.Stat(path); info.Mode().Perm() != 0o600 {
		t.Error(info.Mode())
	}
	if err := Rewrite(dir, "a test", func([]byte) ([]Change, error) { return []Change{{Path: "margin", Value: "wide"}}, nil }); err == nil {
		t.Error("a margin without a length was written")
	}
	if now, _ := os.ReadFile(path); !bytes.Equal(now, data) {
		t.Errorf("%s", now)
	}
	if os.Rename(path, link) == nil && os.Symlink(link, path) == nil { // kept elsewhere
		if err := Rewrite(dir, "a test", func([]byte) ([]Change, error) { return []Change{{Path: "number", Value: "7"}}, nil }); err != nil {
			t.Error(err)
		}
		if info, err := os.Lstat(path); err != nil || info.Mode()&os.ModeSymlink == 0 {
			t.Error("the link was replaced by a file")
		}
	}
	if left, _ := os.ReadDir(dir); len(left) != 1 {
		t.Error(left)
	}
}

// FuzzEdit: whatever text and change come, what comes out is a job.
func FuzzEdit(f *testing.F) {
	for seed := range uint64(5) {
		f.Add(jobByHand(seed).String(), "margin", "9ft")
	}
	f.Add(drawnOn, "around[0].radius", "9ft")
	f.Fuzz(func(t *testing.T, text, key, value string) {
		out, err := Edit([]byte(text), "site", Change{Path: key, Value: value})
		if err == nil {
			if _, err = Parse(out, "site"); err != nil {
				t.Error(err)
			}
		}
	})
}
