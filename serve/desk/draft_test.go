package desk

import (
	"encoding/json"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"groundsheet/pack/office"
)

// TestDraftPlan: what is drawn is planned with the values that the page would set, as the
// job's own plan says it, and nothing is written.
func TestDraftPlan(t *testing.T) {
	o, running := withSources(t)
	dir, id := o.job("valve", strings.ReplaceAll(someJob, "practice", "town"))
	before, _ := os.ReadFile(filepath.Join(dir, "job.toml"))
	ask := func(in map[string]any) (out office.Drafted) {
		t.Helper()
		status, body := o.ask("/api/draft/plan", in)
		if status != http.StatusOK {
			t.Fatalf("%v: %d %s", in, status, body)
		}
		if err := json.Unmarshal(body, &out); err != nil {
			t.Fatal(err)
		}
		return out
	}
	own := ask(map[string]any{"job": id})
	if own.Tiles == 0 || len(own.Choices) == 0 || !strings.Contains(string(own.Outline), `"tiles"`) || own.Total == "" {
		t.Errorf("%+v", own)
	}
	circle := []map[string]any{{"kind": "circle", "center": []float64{-140.4968, 40.4986}, "radius": "300ft"}}
	for name, in := range map[string]map[string]any{
		"shapes": {"job": id, "shapes": circle}, "margin": {"job": id, "margin": "400ft"}, "zooms": {"job": id, "zooms": []int{16, 20}},
		"a new job": {"shapes": circle, "source": "town", "margin": "50ft", "units": "us", "fit_in": "20MB", "reading": "6in"},
	} {
		if got := ask(in); got.Tiles <= own.Tiles || got.Refused != nil {
			t.Errorf("%s: %d tiles, the job has %d; %v", name, got.Tiles, own.Tiles, got.Refused)
		}
	}
	if got := ask(map[string]any{"job": id, "source": "bare"}); got.Refused == nil || !strings.Contains(*got.Refused, "states no terms") {
		t.Errorf("%+v", got.Refused)
	}
	if got := ask(map[string]any{"job": id, "quick": true}); len(got.Choices) != 0 || got.Tiles != own.Tiles {
		t.Errorf("%+v", got)
	}
	for says, in := range map[string]map[string]any{
		"margin":         {"job": id, "margin": "far"},
		"fit_in":         {"job": id, "fit_in": "small"},
		"two numbers":    {"job": id, "zooms": []int{3}},
		"no area":        {"job": id, "shapes": []any{}},
		"no base 8":      {"job": id, "base": 7},
		"cannot be read": {"jobs": id},
		"is named":       {"shapes": circle, "source": "none"},
	} {
		if status, body := o.ask("/api/draft/plan", in); status != http.StatusBadRequest || !strings.Contains(string(body), says) {
			t.Errorf("%s: %d %s", says, status, body)
		}
	}
	if after, _ := os.ReadFile(filepath.Join(dir, "job.toml")); string(after) != string(before) || running.Server.Counts().Requests != 0 {
		t.Error("a draft wrote or asked something")
	}
}
