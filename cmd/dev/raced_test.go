package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// Every package is tested, once; those that run things at once are watched.
func TestTestedHow(t *testing.T) {
	r := repo{root: filepath.Join("..", "..")}
	raced, plain, err := r.testedHow(t.Context(), false)
	if err != nil {
		t.Fatal(err)
	}
	all, none, err := r.testedHow(t.Context(), true)
	if err != nil {
		t.Fatal(err)
	}
	both := slices.Sorted(slices.Values(slices.Concat(raced, plain)))
	slices.Sort(all)
	if len(none) != 0 || !slices.Equal(both, all) {
		t.Errorf("raced %d, plain %d, all %d, none %d", len(raced), len(plain), len(all), len(none))
	}
	for _, name := range []string{"groundsheet/serve", "groundsheet/serve/auth", "groundsheet/tiles/fetch", "groundsheet/pack/office"} {
		if !slices.Contains(raced, name) {
			t.Errorf("%s is not watched for races", name)
		}
	}
	if !slices.Contains(plain, "groundsheet/tiles/geojson") {
		t.Error("tiles/geojson, which does one thing at a time, is watched for races")
	}
}

// No test named Outside… is left out: the parser finds the same packages as the list.
func TestOutsideIsWhole(t *testing.T) {
	r := repo{root: filepath.Join("..", "..")}
	listed, err := r.outside(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	lines, err := r.list(t.Context(), "{{.ImportPath}}\t{{.Dir}}")
	if err != nil {
		t.Fatal(err)
	}
	var want []string
	for _, line := range lines {
		name, dir, _ := strings.Cut(line, "\t")
		if hasOutside(t, dir) {
			want = append(want, name)
		}
	}
	if !slices.Contains(want, "groundsheet/tiles/crs") || !slices.Equal(listed, want) {
		t.Errorf("listed are %v, with such tests are %v", listed, want)
	}
}

func hasOutside(t *testing.T, dir string) bool {
	files, err := filepath.Glob(filepath.Join(dir, "*_test.go"))
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range files {
		parsed, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range parsed.Decls {
			if f, is := d.(*ast.FuncDecl); is && f.Recv == nil && strings.HasPrefix(f.Name.Name, "Test") && strings.Contains(f.Name.Name, "Outside") {
				return true
			}
		}
	}
	return false
}
