package main

import (
	"context"
	"crypto/sha256"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"groundsheet/pack/fieldbook"
	"groundsheet/tiles"
	"groundsheet/tiles/practice"
	"groundsheet/tiles/sqlite"
)

var update = flag.Bool("update", false, "write the expected texts of the scripts anew")

// TestScripts runs the command line as people type it: each file of
// testdata/script is one story. Beside the commands of the script language
// (github.com/rogpeppe/go-internal/testscript) there are:
//
//	status CODE COMMAND…      the command ends with this exit code
//	practice [OPTION…]        starts a practice source, named "town" in the user's sources
//	                          file and $TOWN; options: west (nothing east of 140.5° W),
//	                          nowhere (no tile at all), stale (nothing stays fresh)
//	asked N                   the practice source has answered so many requests
//	snapshot, unchanged       remembers every file; no file has changed since
//	sql FILE STATEMENT        changes a pack or store from outside
//	fill FILE…                replaces $NAME in files by the environment
//	book FILE JOB NUMBER TEXTS  adds entries to a field book; of a file with one JSON text a line
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: filepath.Join("testdata", "script"), UpdateScripts: *update, RequireExplicitExec: true, RequireUniqueNames: true,
		Setup: func(e *testscript.Env) error {
			e.Setenv("XDG_CONFIG_HOME", filepath.Join(e.WorkDir, "config"))
			e.Setenv("GROUNDSHEET_STORE", filepath.Join(e.WorkDir, "store"))
			e.Setenv("TZ", "UTC")
			e.Values[stateKey{}] = &scriptState{}
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"status": scriptStatus, "practice": scriptPractice, "asked": scriptAsked, "snapshot": scriptSnapshot,
			"unchanged": scriptUnchanged, "sql": scriptSQL, "fill": scriptFill, "book": scriptBook,
		},
	})
}

type stateKey struct{}

// scriptState is what one script has begun.
type scriptState struct {
	source *practice.Running
	files  map[string]string // by path, the hash of each at the snapshot
}

func stateOf(ts *testscript.TestScript) *scriptState { return ts.Value(stateKey{}).(*scriptState) }

func scriptStatus(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: status CODE COMMAND…")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	code := 0
	if err := ts.Exec(args[1], args[2:]...); err != nil {
		var ended *exec.ExitError
		if !errors.As(err, &ended) {
			ts.Fatalf("%v", err)
		}
		code = ended.ExitCode()
	}
	if code != want {
		ts.Fatalf("exit code %d, want %d\n%s%s", code, want, ts.ReadFile("stdout"), ts.ReadFile("stderr"))
	}
}

func scriptPractice(ts *testscript.TestScript, _ bool, args []string) {
	o := practice.Options{BusyEvery: -1}
	for _, arg := range args {
		switch arg {
		case "west":
			o.Area = &tiles.Box{West: -141, South: 40, East: -140.5, North: 41}
		case "nowhere":
			o.Area = &tiles.Box{West: 10, South: 10, East: 11, North: 11}
		case "stale":
			o.MaxAge = -1
		default:
			ts.Fatalf("practice: unknown option %q", arg)
		}
	}
	running, err := practice.Start(context.Background(), "", o)
	ts.Check(err)
	ts.Defer(func() { _ = running.Close() })
	stateOf(ts).source = running
	ts.Setenv("TOWN", running.URL)
	dir := filepath.Join(ts.Getenv("XDG_CONFIG_HOME"), "groundsheet")
	ts.Check(os.MkdirAll(dir, 0o755))
	ts.Check(os.WriteFile(filepath.Join(dir, "sources.toml"), []byte(sourceText("town", running.URL, "")), 0o644))
}

func scriptAsked(ts *testscript.TestScript, neg bool, args []string) {
	n := fmt.Sprint(stateOf(ts).source.Server.Counts().Requests)
	if len(args) != 1 || (n == args[0]) == neg {
		ts.Fatalf("the source was asked %s times", n)
	}
}

func scriptSnapshot(ts *testscript.TestScript, _ bool, _ []string) {
	stateOf(ts).files = filesBelow(ts, ts.Getenv("WORK"))
}

func scriptUnchanged(ts *testscript.TestScript, neg bool, _ []string) {
	before, changed := stateOf(ts).files, ""
	after := filesBelow(ts, ts.Getenv("WORK"))
	for path := range after {
		if before[path] != after[path] {
			changed = path
		}
	}
	for path := range before {
		if after[path] == "" {
			changed = path
		}
	}
	if (changed == "") == neg {
		ts.Fatalf("changed: %q", changed)
	}
}

func filesBelow(ts *testscript.TestScript, dir string) map[string]string {
	all := map[string]string{}
	ts.Check(filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			all[path] = "folder"
			return err
		}
		data, err := os.ReadFile(path)
		all[path] = fmt.Sprintf("%x", sha256.Sum256(data))
		return err
	}))
	return all
}

func scriptSQL(ts *testscript.TestScript, _ bool, args []string) {
	if len(args) != 2 {
		ts.Fatalf("usage: sql FILE STATEMENT")
	}
	db := sqlite.Open(ts.MkAbs(args[0]), sqlite.Options{Settings: "mode=rw"})
	done, err := db.Exec(args[1])
	ts.Check(errors.Join(err, db.Close()))
	if n, err := done.RowsAffected(); err != nil || n == 0 {
		ts.Fatalf("no row was changed (%v)", err)
	}
}

func scriptBook(ts *testscript.TestScript, _ bool, args []string) {
	if len(args) != 4 {
		ts.Fatalf("usage: book FILE JOB NUMBER TEXTS")
	}
	b, err := fieldbook.Open(ts.MkAbs(args[0]), fieldbook.About{Name: args[1], Number: args[2], Program: "script"}, fieldbook.Options{})
	ts.Check(err)
	var texts [][]byte
	for line := range strings.Lines(ts.ReadFile(args[3])) {
		texts = append(texts, []byte(strings.TrimSpace(line)))
	}
	receipts, err := b.Append(context.Background(), fieldbook.Sender{Session: "script", Role: "mark"}, texts)
	ts.Check(errors.Join(err, b.Close()))
	for _, r := range receipts {
		if r.Refused != "" {
			ts.Fatalf("%s: %s", r.ID, r.Refused)
		}
	}
}

func scriptFill(ts *testscript.TestScript, _ bool, args []string) {
	for _, name := range args {
		path := ts.MkAbs(name)
		data, err := os.ReadFile(path)
		ts.Check(err)
		ts.Check(os.WriteFile(path, []byte(os.Expand(string(data), ts.Getenv)), 0o644))
	}
}
