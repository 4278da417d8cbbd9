package office

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/source"
)

func ptr(s string) *string { return &s }

// answered is a person who answered every question.
func answered() TermsAnswers {
	none := ptr("")
	return TermsAnswers{Offline: ptr("allowed"), Reference: ptr("https://county.example/terms"), CopiesOnPhones: none, PerSecond: ptr("5"),
		Connections: none, PerDay: ptr("50000"), Hours: ptr("20:00-06:00"), TimeZone: ptr("America/Denver"), KeepAtMost: ptr("90d"), Contact: none}
}

// TestTermsAreAnswered: each question wants an answer; what is answered is what the
// file says when it is read back, and nothing else.
func TestTermsAreAnswered(t *testing.T) {
	path := filepath.Join(t.TempDir(), "sources.toml")
	write(t, path, "# mine\n")
	terms, err := answered().Terms()
	if err != nil {
		t.Fatal(err)
	}
	s := source.Source{Name: "county", Kind: source.KindXYZ, URL: "https://t.example/{z}/{x}/{y}.png", Zooms: tiles.Zooms{Min: 8, Max: 21}, TileSize: 256, Terms: terms}
	if err := source.Append(path, s, []string{"a remark"}); err != nil {
		t.Fatal(err)
	}
	c, err := source.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	got, _ := c.Find("county")
	if got.Refusal() != nil || got.Terms.RequestsPerSecond != 5 || got.Terms.TilesPerDay != 50000 || got.Terms.Hours != terms.Hours ||
		got.Terms.KeepAtMost != terms.KeepAtMost || got.Terms.CopiesOnPhones != "" || got.Terms.Connections != source.DefaultConnections {
		t.Errorf("%+v", got.Terms)
	}
	if data, _ := os.ReadFile(path); !strings.HasPrefix(string(data), "# mine\n\n[county]\n# a remark\n") {
		t.Errorf("%s", data)
	}
	for name, leave := range map[string]func(*TermsAnswers){
		"offline": func(a *TermsAnswers) { a.Offline = nil }, "reference": func(a *TermsAnswers) { a.Reference = ptr(" ") },
		"permission_by": func(a *TermsAnswers) { a.Offline = ptr("permission") }, "copies_on_phones": func(a *TermsAnswers) { a.CopiesOnPhones = nil },
		"requests_per_second": func(a *TermsAnswers) { a.PerSecond = ptr("many") }, "hours": func(a *TermsAnswers) { a.Hours = ptr("at night") },
		"keep_at_most": func(a *TermsAnswers) { a.KeepAtMost = ptr("90") },
	} {
		a := answered()
		leave(&a)
		if _, err := a.Terms(); err == nil || !strings.HasPrefix(err.Error(), name+": ") {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// TestForbiddenIsKept: an answer that the terms forbid it is written, and refuses.
func TestForbiddenIsKept(t *testing.T) {
	a := answered()
	a.Offline = ptr(source.OfflineForbidden)
	terms, err := a.Terms()
	if err != nil || (source.Source{Name: "x", Terms: terms}).Refusal() == nil {
		t.Errorf("%+v, %v", terms, err)
	}
}
