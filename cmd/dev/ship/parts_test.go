package ship

import (
	"encoding/json"
	"os/exec"
	"strings"
	"testing"
)

// Every module that may get into the program has a license that is known.
func TestLicensesAreKnown(t *testing.T) {
	out, err := exec.Command("go", "list", "-deps", "-f", "{{with .Module}}{{.Path}} {{.Dir}}{{end}}", "groundsheet/cmd/groundsheet").Output()
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]string{}
	for line := range strings.Lines(string(out)) {
		name, dir, _ := strings.Cut(strings.TrimSpace(line), " ")
		if name == "groundsheet" || name == "" || seen[name] != "" {
			continue
		}
		p := Part{Name: name}
		if err := p.read(dir); err != nil {
			t.Error(err)
		}
		seen[name] = p.License
	}
	for name, want := range map[string]string{
		"github.com/mattn/go-sqlite3": "MIT", "github.com/spf13/cobra": "Apache-2.0", "golang.org/x/sys": "BSD-3-Clause",
		"github.com/hashicorp/golang-lru/v2": "MPL-2.0", "github.com/vbauerster/mpb/v8": "Unlicense", "rsc.io/qr": "BSD-3-Clause",
	} {
		if seen[name] != want {
			t.Errorf("%s: %q, want %q", name, seen[name], want)
		}
	}
}

func TestLicensesAreWrittenOnce(t *testing.T) {
	text := string(Licenses([]Part{{Name: "b", Version: "2", License: "MIT", Text: "do as you like"}, {Name: "a", Version: "1", License: "MIT", Text: "do as you like"}}))
	if strings.Count(text, "do as you like") != 1 || !strings.Contains(text, "== a 1 (MIT)\n== b 2 (MIT)\n") {
		t.Error(text)
	}
}

func TestListIsADocument(t *testing.T) {
	text, err := List("groundsheet", "1.0", []Part{{Name: "a", Version: "1", License: "MIT", URL: "pkg:golang/a@1"}})
	if err != nil {
		t.Fatal(err)
	}
	var doc struct {
		BOMFormat, SpecVersion string
		Components             []struct{ Name, Version, PURL string }
	}
	if err := json.Unmarshal(text, &doc); err != nil {
		t.Fatal(err)
	}
	if doc.BOMFormat != "CycloneDX" || len(doc.Components) != 1 || doc.Components[0].PURL != "pkg:golang/a@1" {
		t.Errorf("%s", text)
	}
}

func TestPackageURL(t *testing.T) {
	for want, of := range map[string][3]string{
		"pkg:npm/%40scope/name@1.2.3":                {"npm", "@scope/name", "1.2.3"},
		"pkg:golang/example.com/a@v2%2Bincompatible": {"golang", "example.com/a", "v2+incompatible"},
	} {
		if got := PackageURL(of[0], of[1], of[2]); got != want {
			t.Errorf("%s, want %s", got, want)
		}
	}
}
