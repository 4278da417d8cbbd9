package fieldbook

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"strings"
	"testing"
	"time"
)

var noon = time.Date(2031, 5, 6, 12, 0, 0, 0, time.UTC)

// idOf makes an ID of a name.
func idOf(name string) string {
	sum := sha256.Sum256([]byte(name))
	return hex.EncodeToString(sum[:16])
}

// entry is the text of an entry in the making.
type entry map[string]any

// reading is the first entry of a mark.
func reading(name string) entry {
	return entry{
		"layout": 1, "id": idOf(name), "mark": idOf(name), "after": []string{}, "action": "write", "who": "Ada",
		"phone": idOf("phone"), "clock": stamp(noon), "clock_ahead_s": 0, "feature": map[string]any{
			"type": "Feature", "geometry": map[string]any{"type": "Point", "coordinates": []float64{-105.0005, 40.0005}},
			"properties": map[string]any{"kind": "reading", "utility": "water", "depth_m": 1.02, "quality_level": "B", "method": "signal"},
		},
	}
}

// with changes a member, of the feature's properties when the name begins with a dot.
func (e entry) with(name string, v any) entry {
	out := entry{}
	for k, v := range e {
		out[k] = v
	}
	if property, is := strings.CutPrefix(name, "."); is {
		f := map[string]any{}
		for k, v := range out["feature"].(map[string]any) {
			f[k] = v
		}
		p := map[string]any{}
		for k, v := range f["properties"].(map[string]any) {
			p[k] = v
		}
		p[property] = v
		f["properties"], out["feature"] = p, f
		return out
	}
	out[name] = v
	return out
}

// then is a later entry of the same mark.
func (e entry) then(name string, action Action, after ...entry) entry {
	var ids []string
	for _, a := range after {
		ids = append(ids, a["id"].(string))
	}
	out := e.with("id", idOf(name)).with("after", ids).with("action", string(action))
	if action != Write {
		out = out.with("feature", nil).with("why", "a mistake")
	}
	return out
}

func (e entry) at(t time.Time) entry { return e.with("clock", stamp(t)) }

func (e entry) text(t testing.TB) []byte {
	t.Helper()
	text, err := json.Marshal(e)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func opened(t testing.TB, path string, o Options) *Book {
	t.Helper()
	b, err := Open(path, About{Name: "Larkwater", Number: "7", Seal: "abc", Program: "test"}, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = b.Close() })
	return b
}

func appended(t testing.TB, b *Book, all ...entry) []Receipt {
	t.Helper()
	texts := make([][]byte, len(all))
	for i, e := range all {
		texts[i] = e.text(t)
	}
	receipts, err := b.Append(t.Context(), Sender{"s", "mark"}, texts)
	if err != nil {
		t.Fatal(err)
	}
	return receipts
}

func whole(t testing.TB, b *Book) Verification {
	t.Helper()
	v, err := b.Verify(context.Background())
	if err != nil || !v.Whole() {
		t.Fatalf("%v, %v", v.Faults, err)
	}
	return v
}
