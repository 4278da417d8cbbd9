package main

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"

	"groundsheet/cmd/dev/ship"
)

// texts are what comes with the program: how it is used, what changed, what is inside and
// under which terms.
func (r repo) texts(ctx context.Context, version string, k kind, program string) ([]ship.File, error) {
	readme, err := os.ReadFile(r.path("README.md"))
	if err != nil {
		return nil, err
	}
	changes, err := os.ReadFile(r.path("cmd", "groundsheet", "CHANGES.md"))
	if err != nil {
		return nil, err
	}
	parts, err := r.parts(ctx, k, program)
	if err != nil {
		return nil, err
	}
	list, err := ship.List("groundsheet", version, parts)
	if err != nil {
		return nil, err
	}
	return []ship.File{
		{Path: "README.md", Data: pictureLines.ReplaceAll(readme, nil)}, {Path: "CHANGES.md", Data: changes},
		{Path: "LICENSES.txt", Data: ship.Licenses(parts)}, {Path: "parts.cdx.json", Data: list},
	}, nil
}

// pictureLines show pictures, which are not in the archives.
var pictureLines = regexp.MustCompile(`(?m)^<img .*\n\n?`)

// parts is what is inside the program of one kind: Go modules, npm packages, SQLite, and
// what the compilers add.
func (r repo) parts(ctx context.Context, k kind, program string) ([]ship.Part, error) {
	c := exec.CommandContext(ctx, "go", "list", "-m", "-f", "{{.Path}} {{.Dir}}", "all")
	c.Dir = r.root
	out, err := c.Output()
	if err != nil {
		return nil, fmt.Errorf("go list says no modules: %w", err)
	}
	folders := map[string]string{}
	for line := range strings.Lines(string(out)) {
		module, dir, _ := strings.Cut(strings.TrimSpace(line), " ")
		folders[module] = dir
	}
	folder := func(module string) (string, error) {
		if folders[module] == "" {
			return "", fmt.Errorf("the files of module %s are not here: run go mod download", module)
		}
		return folders[module], nil
	}
	all, err := ship.GoParts(program, folder)
	if err != nil {
		return nil, err
	}
	pages, err := ship.PageParts(r.path("serve", "web"))
	if err != nil {
		return nil, err
	}
	all = append(all, pages...)
	root, err := exec.CommandContext(ctx, "go", "env", "GOROOT").Output()
	if err != nil {
		return nil, err
	}
	goItself, err := ship.LicenseOf("Go standard library", runtime.Version(), ship.PackageURL("golang", "std", strings.TrimPrefix(runtime.Version(), "go")), "BSD-3-Clause",
		filepath.Join(strings.TrimSpace(string(root)), "LICENSE"))
	if err != nil {
		return nil, err
	}
	driver, err := folder("github.com/mattn/go-sqlite3")
	if err != nil {
		return nil, err
	}
	sqlite, err := sqlitePart(filepath.Join(driver, "sqlite3-binding.h"))
	if err != nil {
		return nil, err
	}
	all = append(all, goItself, sqlite)
	if k.system != "windows" {
		return all, nil
	}
	fromCompiler, err := compilerParts(ctx)
	return append(all, fromCompiler...), err
}

var sqliteVersion = regexp.MustCompile(`#define SQLITE_VERSION\s+"([^"]+)"`)

// sqlitePart is SQLite, whose header says its version and that it is in the public domain.
func sqlitePart(header string) (ship.Part, error) {
	text, err := os.ReadFile(header)
	if err != nil {
		return ship.Part{}, err
	}
	m := sqliteVersion.FindSubmatch(text)
	if m == nil || !strings.Contains(string(text), "The author disclaims copyright to this source code") {
		return ship.Part{}, fmt.Errorf("%s does not say SQLite's version and terms as it did", header)
	}
	version := string(m[1])
	return ship.Part{Name: "SQLite", Version: version, URL: ship.PackageURL("generic", "sqlite", version), License: "blessing",
		Text: "The author disclaims copyright to this source code. In place of a legal notice, here is a blessing:\n\n" +
			"May you do good and not evil.\nMay you find forgiveness for yourself and forgive others.\nMay you share freely, never taking more than you give."}, nil
}

// compilerParts are what the compiler for Windows links in.
func compilerParts(ctx context.Context) ([]ship.Part, error) {
	var all []ship.Part
	for _, p := range []struct{ name, debian, license string }{
		{"mingw-w64 runtime", "mingw-w64-x86-64-dev", "ZPL-2.1"},
		{"libgcc", "gcc-mingw-w64-base", "GPL-3.0-or-later WITH GCC-exception-3.1"},
	} {
		version, err := exec.CommandContext(ctx, "dpkg-query", "-W", "-f", "${Version}", p.debian).Output()
		if err != nil {
			return nil, fmt.Errorf("dpkg-query says no version of %s: %w", p.debian, err)
		}
		part, err := ship.LicenseOf(p.name, string(version), ship.PackageURL("deb", "debian/"+p.debian, string(version)),
			p.license, filepath.Join("/usr/share/doc", p.debian, "copyright"))
		if err != nil {
			return nil, err
		}
		all = append(all, part)
	}
	return all, nil
}
