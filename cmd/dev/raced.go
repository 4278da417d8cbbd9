package main

import (
	"bytes"
	"context"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// plainly are packages that lock and are tested without the race detector: the scripts of
// the command start the program as a user would, and what runs at once in it belongs to
// packages of their own; the brief takes one lock round a library and computes for minutes.
var plainly = map[string]bool{"cmd/groundsheet": true, "pack/brief": true}

// testedHow divides the packages into those that the race detector watches and the
// others.
func (r repo) testedHow(ctx context.Context, whole bool) (raced, plain []string, err error) {
	lines, err := r.list(ctx, "{{.ImportPath}}\t{{.Dir}}")
	if err != nil {
		return nil, nil, err
	}
	for _, line := range lines {
		name, dir, _ := strings.Cut(line, "\t")
		at, err := atOnce(dir)
		switch {
		case err != nil:
			return nil, nil, err
		case whole || at && !plainly[strings.TrimPrefix(name, "groundsheet/")]:
			raced = append(raced, name)
		default:
			plain = append(plain, name)
		}
	}
	return raced, plain, nil
}

// list tells of every package, a line for each, what the format asks for.
func (r repo) list(ctx context.Context, format string, flags ...string) ([]string, error) {
	list := exec.CommandContext(ctx, "go", slices.Concat([]string{"list", "-f", format}, flags, []string{"./..."})...)
	list.Dir, list.Stderr = r.root, os.Stderr
	out, err := list.Output()
	return strings.Split(string(bytes.TrimSpace(out)), "\n"), err
}

// outside names the packages that have tests named Outside…: only their test programs are
// linked, which takes about a second each.
func (r repo) outside(ctx context.Context) ([]string, error) {
	lines, err := r.list(ctx, `{{.ImportPath}}{{range .TestGoFiles}}{{"\t"}}{{$.Dir}}/{{.}}{{end}}{{range .XTestGoFiles}}{{"\t"}}{{$.Dir}}/{{.}}{{end}}`, "-tags", "outside")
	if err != nil {
		return nil, err
	}
	var packages []string
	for _, line := range lines {
		files := strings.Split(line, "\t")
		for _, file := range files[1:] {
			text, err := os.ReadFile(file)
			if err != nil {
				return nil, err
			}
			if outsideTest.Match(text) {
				packages = append(packages, files[0])
				break
			}
		}
	}
	return packages, nil
}

// outsideTest is wider than go test -run Outside, which finds the word anywhere in a name.
var outsideTest = regexp.MustCompile(`func (Test|Example|Fuzz)\w*Outside`)

// atOnce reports whether the package in a folder, or its tests, start goroutines, or lock.
func atOnce(dir string) (bool, error) {
	files, err := filepath.Glob(filepath.Join(dir, "*.go"))
	if err != nil {
		return false, err
	}
	for _, file := range files {
		parsed, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.SkipObjectResolution)
		if err != nil {
			return false, err
		}
		for _, i := range parsed.Imports {
			path, _ := strconv.Unquote(i.Path.Value)
			if slices.Contains([]string{"sync", "sync/atomic", "golang.org/x/sync/errgroup"}, path) {
				return true, nil
			}
		}
		found := false
		ast.Inspect(parsed, func(n ast.Node) bool {
			_, starts := n.(*ast.GoStmt)
			found = found || starts
			return !found
		})
		if found {
			return true, nil
		}
	}
	return false, nil
}
