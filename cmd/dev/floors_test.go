package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"io/fs"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// floors is the house, from the ground up: a package imports only from lower
// floors. The names are those of DEVELOPERS.md.
var floors = [][]string{
	{"tiles", "tiles/fault", "tiles/durable", "tiles/filehash", "tiles/words", "tiles/words/golden", "tiles/sqlite", "tiles/store/postgres/trial", "serve/announce", "serve/web", "cmd/dev/ship"},
	{"tiles/measure", "tiles/lockfile", "tiles/geojson", "tiles/geodesic", "tiles/geopackage", "tiles/dxf", "tiles/shapefile", "tiles/gdal", "tiles/answer", "tiles/paint", "tiles/mvt", "tiles/union", "tiles/tomlline", "tiles/tomledit", "tiles/fetch/httpcache", "serve/authority", "serve/health", "serve/device"},
	{"tiles/area", "tiles/source", "tiles/places", "tiles/raster", "tiles/crs", "tiles/local", "tiles/practice", "tiles/fetch/pace", "tiles/fetch/httpget", "pack/record", "serve/position"},
	{"pack/record/derive", "pack/record/instrument", "tiles/vector", "tiles/store", "tiles/imagery", "tiles/plainmap"},
	{"pack/record/intake", "tiles/drawn", "tiles/store/folder", "tiles/store/postgres", "tiles/store/prune", "tiles/store/verify", "tiles/fetch", "pack", "pack/fieldbook", "serve/vectortile", "serve/readings"},
	{"tiles/store/storetest", "tiles/discover", "pack/job", "pack/update", "pack/check", "pack/vectorbase", "serve/auth", "serve/cache"},
	{"pack/plan", "pack/brief", "pack/collect", "serve/listen", "serve/catalog", "serve/event"},
	{"pack/office", "pack/archive", "pack/handover", "pack/picture", "serve/document"},
	{"serve/tile"},
	{"serve/overlay", "serve/book", "serve/standard", "serve/status"},
	{"serve"},
	{"serve/desk"},
	{"cmd/groundsheet", "cmd/dev"},
}

// floorOf is the floor of a package by its import path; false when it has none.
func floorOf(path string) (int, bool) {
	for floor, rooms := range floors {
		if slices.Contains(rooms, strings.TrimPrefix(path, "groundsheet/")) {
			return floor, true
		}
	}
	return 0, false
}

// homes names where each third-party library lives. orb is the geometry
// language of the whole house.
var homes = map[string][]string{
	"github.com/paulmach/orb":              {"*"},
	"github.com/peterstace/simplefeatures": {"tiles/union", "tiles/area", "tiles/vector", "tiles/plainmap", "pack/record/derive", "serve/vectortile"},
	"github.com/pelletier/go-toml/v2":      {"tiles/source", "tiles/tomlline", "tiles/tomledit", "pack/job"},
	"github.com/disintegration/imaging":    {"tiles/raster"},
	"golang.org/x/image":                   {"tiles/raster", "tiles/practice", "tiles/paint", "pack/picture", "pack/brief"},
	"codeberg.org/go-pdf/fpdf":             {"pack/brief"},
	"github.com/mattn/go-sqlite3":          {"tiles/sqlite"},
	"github.com/jackc/pgx/v5":              {"tiles/store/postgres"},
	"golang.org/x/sync":                    {"tiles/fetch", "tiles/discover", "tiles/store/verify", "pack/check", "serve/cache", "cmd/dev"},
	"golang.org/x/time":                    {"serve/auth", "tiles/fetch/pace"},
	"google.golang.org/protobuf":           {"serve/vectortile", "tiles/mvt"},
	"github.com/spf13/cobra":               {"cmd/groundsheet", "cmd/dev"},
	"github.com/spf13/pflag":               {"cmd/groundsheet"},
	"github.com/inconshreveable/mousetrap": {"cmd/groundsheet"}, // on Windows
	"github.com/vbauerster/mpb/v8":         {"cmd/groundsheet"},
	"golang.org/x/text":                    {"tiles/vector"},
	"golang.org/x/term":                    {"cmd/groundsheet"},
	"rsc.io/qr":                            {"serve/listen"},
	"github.com/hashicorp/golang-lru/v2":   {"serve/auth", "serve/listen"},
	"github.com/pion/mdns/v2":              {"serve/announce"},
	"golang.org/x/net":                     {"serve/announce"}, // what pion/mdns is told with
	"go.bug.st/serial":                     {"serve/device"},
	"golang.org/x/sys":                     {"pack"}, // to read a copy back from the disk
}

type listed struct {
	ImportPath string
	Imports    []string
}

func packages(t *testing.T) []listed {
	t.Helper()
	c := exec.Command("go", "list", "-json=ImportPath,Imports", "./...")
	c.Dir = filepath.Join("..", "..")
	out, err := c.Output()
	if err != nil {
		t.Fatal(err)
	}
	var all []listed
	for d := json.NewDecoder(bytes.NewReader(out)); ; {
		var p listed
		if err := d.Decode(&p); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		all = append(all, p)
	}
	if len(all) < 10 {
		t.Fatalf("only %d packages were found", len(all))
	}
	return all
}

func TestFloors(t *testing.T) {
	for _, p := range packages(t) {
		floor, known := floorOf(p.ImportPath)
		if !known {
			t.Errorf("%s has no floor: give it one here and in DEVELOPERS.md", p.ImportPath)
			continue
		}
		for _, to := range p.Imports {
			if below, own := floorOf(to); own && below >= floor {
				t.Errorf("%s (floor %d) imports %s (floor %d)", p.ImportPath, floor, to, below)
			}
		}
	}
}

func TestLibrariesStayAtHome(t *testing.T) {
	for _, p := range packages(t) {
		room := strings.TrimPrefix(p.ImportPath, "groundsheet/")
		for _, to := range p.Imports {
			if !strings.Contains(strings.SplitN(to, "/", 2)[0], ".") {
				continue // the standard library, or a room of our own
			}
			home := homeOf(to)
			if home == nil {
				t.Errorf("%s imports %s, which has no home", room, to)
			} else if !slices.Contains(home, "*") && !slices.Contains(home, room) {
				t.Errorf("%s imports %s, which is at home in %v", room, to, home)
			}
		}
	}
}

func homeOf(path string) []string {
	for module, home := range homes {
		if path == module || strings.HasPrefix(path, module+"/") {
			return home
		}
	}
	return nil
}

// TestSignatures: no exported function or field names a third-party type,
// except orb geometry.
func TestSignatures(t *testing.T) {
	for _, top := range []string{"tiles", "pack", "serve"} {
		err := filepath.WalkDir(filepath.Join("..", "..", top), func(path string, d fs.DirEntry, err error) error {
			if d != nil && d.IsDir() && d.Name() == "node_modules" {
				return filepath.SkipDir
			}
			if err == nil && strings.HasSuffix(path, ".go") && !strings.HasSuffix(path, "_test.go") {
				checkSignatures(t, path)
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
}

func checkSignatures(t *testing.T, path string) {
	file, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	foreign := map[string]string{}
	for _, spec := range file.Imports {
		to, err := strconv.Unquote(spec.Path.Value)
		if err != nil {
			t.Fatal(err)
		}
		if homeOf(to) == nil || strings.HasPrefix(to, "github.com/paulmach/orb") {
			continue
		}
		name := filepath.Base(to)
		if strings.HasPrefix(name, "v") && strings.Trim(name[1:], "0123456789") == "" { // a major version
			name = filepath.Base(filepath.Dir(to))
		}
		for _, known := range []string{"toml", "sqlite3", "mpb"} {
			if strings.Contains(to, known) {
				name = known
			}
		}
		if spec.Name != nil {
			name = spec.Name.Name
		}
		foreign[name] = to
	}
	report := func(where string, n ast.Node) {
		ast.Inspect(n, func(n ast.Node) bool {
			if s, ok := n.(*ast.SelectorExpr); ok {
				if x, ok := s.X.(*ast.Ident); ok && foreign[x.Name] != "" {
					t.Errorf("%s: %s names %s.%s", path, where, x.Name, s.Sel.Name)
				}
			}
			return true
		})
	}
	for _, decl := range file.Decls {
		switch d := decl.(type) {
		case *ast.FuncDecl:
			if d.Name.IsExported() {
				report(d.Name.Name, d.Type)
			}
		case *ast.GenDecl:
			for _, spec := range d.Specs {
				switch s := spec.(type) {
				case *ast.TypeSpec:
					if s.Name.IsExported() {
						exportedFields(s, report)
					}
				case *ast.ValueSpec:
					for _, name := range s.Names {
						if name.IsExported() && s.Type != nil {
							report(name.Name, s.Type)
						}
					}
				}
			}
		}
	}
}

func exportedFields(s *ast.TypeSpec, report func(string, ast.Node)) {
	st, ok := s.Type.(*ast.StructType)
	if !ok {
		report(s.Name.Name, s.Type)
		return
	}
	for _, f := range st.Fields.List {
		if len(f.Names) == 0 { // embedded: its methods become the type's own
			report(s.Name.Name, f.Type)
		}
		for _, name := range f.Names {
			if name.IsExported() {
				report(s.Name.Name+"."+name.Name, f.Type)
			}
		}
	}
}
