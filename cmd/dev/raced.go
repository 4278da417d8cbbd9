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
	list := exec.CommandContext(ctx, "go", "list", "-f", "{{.ImportPath}}\t{{.Dir}}", "./...")
	list.Dir, list.Stderr = r.root, os.Stderr
	out, err := list.Output()
	if err != nil {
		return nil, nil, err
	}
	for line := range strings.Lines(string(bytes.TrimSpace(out))) {
		name, dir, _ := strings.Cut(strings.TrimSpace(line), "\t")
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
