package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"groundsheet/tiles/practice"
)

// TestMain lets the test binary be the program itself, so that it can be
// killed and its exit code seen.
func TestMain(m *testing.M) {
	if os.Getenv("GROUNDSHEET_AS_PROGRAM") == "1" {
		main()
	}
	if dir := os.Getenv("GROUNDSHEET_AS_WITNESS"); dir != "" {
		os.Exit(witness(dir, os.Args[1]))
	}
	testscript.Main(m, map[string]func(){
		"groundsheet": func() { os.Exit(run(context.Background(), os.Args[1:], os.Stdout, os.Stderr)) },
	})
}

// worker is a user at work: a folder for jobs, a store, a sources file.
type worker struct {
	t   *testing.T
	dir string
	at  string // where the store is
}

func newWorker(t *testing.T) *worker {
	t.Helper()
	dir := t.TempDir()
	o := &worker{t, dir, filepath.Join(dir, "store")}
	o.write("sources.toml", "")
	return o
}

func (o *worker) path(parts ...string) string {
	return filepath.Join(append([]string{o.dir}, parts...)...)
}

func (o *worker) write(name, text string) string {
	o.t.Helper()
	path := o.path(name)
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		o.t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		o.t.Fatal(err)
	}
	return path
}

// args adds the office's own store and sources to a call.
func (o *worker) args(args []string) []string {
	return append(args, "--store", o.at, "--sources", o.path("sources.toml"))
}

func (o *worker) do(args ...string) (code int, out, err string) {
	var stdout, stderr bytes.Buffer
	code = run(o.t.Context(), o.args(args), &stdout, &stderr)
	return code, stdout.String(), stderr.String()
}

// must runs a call that has to end with a code.
func (o *worker) must(want int, args ...string) string {
	o.t.Helper()
	code, out, err := o.do(args...)
	if code != want {
		o.t.Fatalf("groundsheet %s: exit code %d, want %d\n%s%s", strings.Join(args, " "), code, want, out, err)
	}
	return out
}

// startSource starts a practice source and names it "town" in sources.toml.
func (o *worker) startSource(options practice.Options) *practice.Running {
	o.t.Helper()
	running, err := practice.Start(o.t.Context(), "", options)
	if err != nil {
		o.t.Fatal(err)
	}
	o.t.Cleanup(func() { _ = running.Close() })
	o.source("town", running.URL, "")
	return running
}

// source writes a sources.toml with one permitted source.
func (o *worker) source(name, url, more string) {
	o.t.Helper()
	o.write("sources.toml", sourceText(name, url, more))
}

func sourceText(name, url, more string) string {
	return fmt.Sprintf(`[%s]
kind = "xyz"
url = %q
zooms = [0, 22]
attribution = "Invented Survey"
%s
[%s.terms]
offline = "allowed"
reference = "invented for the tests"
requests_per_second = 2000
connections = 8
`, name, url, more, name)
}

// newJob makes a small circle of a job: a few dozen tiles.
func (o *worker) newJob(more ...string) {
	o.t.Helper()
	o.must(0, append([]string{"new", o.path("site"), "--name", "Test site", "--around", "40.5,-140.5", "--radius", "100ft", "--margin", "20ft", "--zooms", "15,20"}, more...)...)
}

func (o *worker) packPath() string { return o.path("site", "out", "test-site.mbtiles") }

// snapshot hashes everything in the office.
func (o *worker) snapshot() map[string]string {
	o.t.Helper()
	all := map[string]string{}
	err := filepath.WalkDir(o.dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			all[path] = "folder"
			return err
		}
		data, err := os.ReadFile(path)
		all[path] = fmt.Sprintf("%x", sha256.Sum256(data))
		return err
	})
	if err != nil {
		o.t.Fatal(err)
	}
	return all
}

func decode(t *testing.T, text string, into any) {
	t.Helper()
	if err := json.Unmarshal([]byte(text), into); err != nil {
		t.Fatalf("%v in %s", err, text)
	}
}
