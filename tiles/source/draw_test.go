package source_test

import (
	"strings"
	"testing"

	"groundsheet/tiles/source"
)

// TestDraw: what is stated of files that are drawn, and what is wrong with it, by line.
func TestDraw(t *testing.T) {
	const top = "[a]\nkind = \"drawn\"\nzooms = [12, 20]\n"
	b, err := source.Read([]byte(top+`
[[a.draw]]
file = "roads.gpkg"
layer = "centerlines"
role = "street"
name = "FULLNAME"
only = { CLASS = [1, "2"], OPEN = true }
epsg = 2231
`), "s")
	if err != nil {
		t.Fatal(err)
	}
	s, _ := b.Find("a")
	d := s.Draw[0]
	if !s.Local() || s.Asked() || d.Layers[0] != "centerlines" || d.EPSG != 2231 || strings.Join(d.Only["CLASS"], " ") != "1 2" || d.Only["OPEN"][0] != "true" {
		t.Errorf("%+v", s)
	}
	shows := func(values map[string]string) bool {
		return d.Shows(func(field string) (string, bool) { v, has := values[field]; return v, has })
	}
	if !shows(map[string]string{"CLASS": "2", "OPEN": "true"}) || shows(map[string]string{"CLASS": "3", "OPEN": "true"}) || shows(map[string]string{"CLASS": "2"}) {
		t.Error("only")
	}
	for text, want := range map[string]string{
		"":                             `draw is missing: a [[NAME.draw]] table for each file`,
		"[[a.draw]]\nfile = \"x.shp\"": `line 4, source "a", draw[0].role: "" is no role: one of land, green`,
		"[[a.draw]]\nrole = \"rail\"":  `line 4, source "a", draw[0].file: is missing`,
		"[[a.draw]]\nfile = \"x\"\nrole = \"rail\"\n[[a.draw]]\nfile = \"x\"\nrole = \"roads\"": `line 9, source "a", draw[1].role: "roads" is no role`,
		"[[a.draw]]\nfile = \"x\"\nrole = \"rail\"\nonly = { A = [[1]] }":                       `only: A: want a value of the field`,
		"[[a.draw]]\nfile = \"x\"\nrole = \"rail\"\ncolor = 3":                                  `known: file, layer, role`,
		"[[a.draw]]\nfile = \"x\\u0007\"\nrole = \"rail\"":                                      `without control characters`,
		"file = \"x\"\n[[a.draw]]\nfile = \"x\"\nrole = \"rail\"":                               `file: makes no sense for kind drawn`,
	} {
		_, err := source.Read([]byte(top+text+"\n"), "s")
		got := ""
		if err != nil {
			got = strings.ReplaceAll(err.Error(), "draw: is", "draw is")
		}
		if !strings.Contains(got, want) {
			t.Errorf("%q:\n%s\nwant %s", text, got, want)
		}
	}
	if _, err := source.Read([]byte("[a]\nkind = \"xyz\"\nzooms = [1, 2]\nurl = \"https://t.example/{z}/{x}/{y}\"\n[[a.draw]]\nfile = \"x\"\nrole = \"rail\"\n"), "s"); err == nil {
		t.Error("a draw table in a source of pictures")
	}
}
