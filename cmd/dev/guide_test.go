package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// TestGuideNamesWhatIsThere: DEVELOPERS.md names no file, package, function or
// type that is gone, and every package has a row.
func TestGuideNamesWhatIsThere(t *testing.T) {
	root := filepath.Join("..", "..")
	text, err := os.ReadFile(filepath.Join(root, "DEVELOPERS.md"))
	if err != nil {
		t.Fatal(err)
	}
	declared := declarations(t, root)
	at := regexp.MustCompile("`([^`\n]+)`")
	isPath := regexp.MustCompile(`^(cmd|tiles|pack|serve|testdata|\.ci)(/[\w.*-]+)+/?$`)
	isName := regexp.MustCompile(`^([a-z][a-z0-9]+)\.([A-Za-z]\w*)(\.(\w+))?(\(.*\))?$`)
	rows := map[string]bool{}
	for _, m := range at.FindAllStringSubmatch(string(text), -1) {
		token := m[1]
		rows[token] = true
		if isPath.MatchString(token) {
			if found, _ := filepath.Glob(filepath.Join(root, filepath.FromSlash(token))); len(found) == 0 {
				t.Errorf("`%s` is not there", token)
			}
		} else if n := isName.FindStringSubmatch(token); n != nil && declared[n[1]] != nil && n[2] != "toml" {
			if name := n[2]; !declared[n[1]][name] || n[4] != "" && !declared[n[1]][n[4]] {
				t.Errorf("`%s` is not declared", token)
			}
		}
	}
	for _, rooms := range floors {
		for _, room := range rooms {
			if !rows[room] {
				t.Errorf("`%s` has no row", room)
			}
			if _, err := os.Stat(filepath.Join(root, filepath.FromSlash(room))); err != nil {
				t.Errorf("%s has a floor and is not there", room)
			}
		}
	}
}

// declarations are the names declared in each package, methods and fields too, by the last
// element of its path.
func declarations(t *testing.T, root string) map[string]map[string]bool {
	t.Helper()
	all := map[string]map[string]bool{}
	for _, top := range []string{"cmd", "tiles", "pack", "serve"} {
		err := filepath.WalkDir(filepath.Join(root, top), func(file string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				if d != nil && d.Name() == "node_modules" {
					return filepath.SkipDir
				}
				return err
			}
			if !strings.HasSuffix(file, ".go") {
				return nil
			}
			parsed, err := parser.ParseFile(token.NewFileSet(), file, nil, 0)
			if err != nil {
				return err
			}
			name := path.Base(filepath.ToSlash(filepath.Dir(file)))
			if all[name] == nil {
				all[name] = map[string]bool{}
			}
			ast.Inspect(parsed, func(n ast.Node) bool {
				switch n := n.(type) {
				case *ast.FuncDecl:
					all[name][n.Name.Name] = true
				case *ast.TypeSpec:
					all[name][n.Name.Name] = true
				case *ast.ValueSpec:
					for _, id := range n.Names {
						all[name][id.Name] = true
					}
				case *ast.Field:
					for _, id := range n.Names {
						all[name][id.Name] = true
					}
				}
				return true
			})
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	return all
}
