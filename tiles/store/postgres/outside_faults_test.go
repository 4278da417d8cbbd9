//go:build outside

package postgres

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
	"groundsheet/tiles/store/postgres/trial"
)

// image is a tile of row 0 whose bytes follow from n.
func image(zoom int, x uint32, n uint64, size int) store.Held {
	data := make([]byte, size)
	state := n*2862933555777941757 + 3037000493
	for i := range data {
		state = state*6364136223846793005 + 1442695040888963407
		data[i] = byte(state >> 56)
	}
	at := time.Date(2026, 3, 4, 5, 6, 7, 0, time.UTC)
	return store.Held{Media: "jpg", Tile: tiles.Tile{ID: tiles.ID{Z: uint32(zoom), X: x}, Data: data,
		Origin: tiles.Origin{Source: "town", Fetched: at, FreshUntil: at.Add(time.Hour)}}}
}

func town(t testing.TB, s *Store) store.Shelf {
	t.Helper()
	shelf, err := s.Shelf("town")
	if err != nil {
		t.Fatal(err)
	}
	return shelf
}

func keep(t testing.TB, s store.Writer, recs ...store.Held) {
	t.Helper()
	if _, err := s.Keep(t.Context(), recs); err != nil {
		t.Fatal(err)
	}
}

// silent is how nothing said to a user holds the password.
func silent(t *testing.T, err error) {
	t.Helper()
	for _, text := range []string{fmt.Sprint(err), fmt.Sprintf("%+v", err)} {
		if strings.Contains(text, trial.Password) || strings.Contains(text, strings.ReplaceAll(trial.Password, " ", "%20")) {
			t.Errorf("the password is in %q", text)
		}
	}
}

func TestOutsideNotLetIn(t *testing.T) {
	good := address(t)
	l, err := net.Listen("tcp", "127.0.0.1:0") // a server that never speaks
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	password := strings.ReplaceAll(trial.Password, " ", "%20")
	for name, a := range map[string]string{
		"wrong password":   strings.Replace(good, password, password+"x", 1),
		"no password":      strings.Replace(good, ":"+password, "", 1),
		"wrong user":       strings.Replace(good, "office:", "nobody:", 1),
		"no such database": server.Address("nowhere"),
		"nobody listens":   strings.Replace(good, server.Host(), "127.0.0.1:1", 1),
		"no such socket":   "postgres://office:" + password + "@/x?host=/nowhere",
		"nobody answers":   strings.Replace(good, server.Host(), l.Addr().String(), 1),
		"no TLS there":     strings.Replace(good, "disable", "require", 1),
	} {
		t.Run(name, func(t *testing.T) {
			t.Setenv("PGPASSWORD", "")
			t.Setenv("PGPASSFILE", "/nowhere")
			_, err := Open(t.Context(), a, Options{Connecting: time.Second})
			if !errors.Is(err, store.Unreachable) || !strings.HasPrefix(err.Error(), "postgres://") || !strings.Contains(err.Error(), "run again") {
				t.Fatalf("%v (%T), want an Unreachable with what to do", err, err)
			}
			silent(t, err)
			t.Log(err)
		})
	}
}

// The password may come as for every program that speaks to PostgreSQL.
func TestOutsidePasswordFromElsewhere(t *testing.T) {
	bare := strings.Replace(address(t), ":"+strings.ReplaceAll(trial.Password, " ", "%20"), "", 1)
	t.Run("PGPASSWORD", func(t *testing.T) {
		t.Setenv("PGPASSWORD", trial.Password)
		openAt(t, bare, Options{})
	})
	t.Run("password file", func(t *testing.T) {
		file := filepath.Join(t.TempDir(), "pgpass")
		if err := os.WriteFile(file, []byte("*:*:*:office:"+trial.Password+"\n"), 0o600); err != nil {
			t.Fatal(err)
		}
		t.Setenv("PGPASSFILE", file)
		openAt(t, bare, Options{})
	})
}

func TestOutsideNewerSchema(t *testing.T) {
	a := address(t)
	s := openAt(t, a, Options{})
	keep(t, town(t, s), image(3, 1, 1, 10))
	query(t, a, `UPDATE groundsheet.version SET version = 99`)
	_, err := Open(t.Context(), a, Options{})
	if !errors.Is(err, store.Newer) || !strings.Contains(err.Error(), fmt.Sprintf("format 99, this version supports %d", len(steps()))) || !strings.Contains(err.Error(), "newer version") {
		t.Fatalf("%v (%T), want a Newer", err, err)
	}
	silent(t, err)
}

// A store that knows one step more brings an older one up to date, once, and
// an upgrade that fails leaves everything as it was.
func TestOutsideUpgrade(t *testing.T) {
	a := address(t)
	keep(t, town(t, openAt(t, a, Options{})), image(3, 1, 1, 10))
	broken := append(steps(), `ALTER TABLE groundsheet.tiles ADD COLUMN later int NOT NULL DEFAULT 7; SELECT 1/0`)
	if _, err := open(t.Context(), a, Options{}, broken); err == nil {
		t.Fatal("an upgrade that fails went unnoticed")
	}
	if got := query(t, a, `SELECT version FROM groundsheet.version`); got != fmt.Sprint(len(steps())) {
		t.Errorf("version %s after a failed upgrade", got)
	}
	good := append(steps(), `ALTER TABLE groundsheet.tiles ADD COLUMN later int NOT NULL DEFAULT 7`)
	for range 2 {
		s, err := open(t.Context(), a, Options{}, good)
		if err != nil {
			t.Fatal(err)
		}
		if _, held, err := town(t, s).Get(t.Context(), tiles.ID{Z: 3, X: 1}); !held || err != nil {
			t.Errorf("held %v, %v", held, err)
		}
		s.Close()
	}
	if got := query(t, a, `SELECT version, (SELECT later FROM groundsheet.tiles) FROM groundsheet.version`); got != fmt.Sprintf("%d|7", len(steps())+1) {
		t.Errorf("version and new column: %s", got)
	}
}

func TestOutsideAskingMakesNoSchema(t *testing.T) {
	a := address(t)
	s := openAt(t, a, Options{})
	if names, err := s.Shelves(t.Context()); err != nil || len(names) != 0 {
		t.Errorf("%v, %v", names, err)
	}
	if _, held, err := town(t, s).Get(t.Context(), tiles.ID{}); held || err != nil {
		t.Errorf("%v, %v", held, err)
	}
	if got := query(t, a, `SELECT count(*) FROM pg_namespace WHERE nspname = 'groundsheet'`); got != "0" {
		t.Error("asking made the schema")
	}
}

func TestOutsideOtherEncoding(t *testing.T) {
	if _, err := server.Query(t.Context(), "postgres", `CREATE DATABASE latin ENCODING 'LATIN1' TEMPLATE template0`); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(t.Context(), server.Address("latin"), Options{}); err == nil || !strings.Contains(err.Error(), "LATIN1") || !strings.Contains(err.Error(), "UTF8") {
		t.Errorf("%v", err)
	}
}

func TestOutsideNotPermitted(t *testing.T) {
	a := address(t)
	query(t, a, `CREATE ROLE guest LOGIN PASSWORD 'guest-word'; REVOKE CREATE ON DATABASE `+databaseOf(a)+` FROM PUBLIC`)
	_, rest, _ := strings.Cut(a, "@")
	guest := openAt(t, "postgres://guest:guest-word@"+rest, Options{})
	_, err := town(t, guest).Keep(t.Context(), []store.Held{image(3, 1, 1, 10)})
	if err == nil || !strings.Contains(err.Error(), "grant") || strings.Contains(err.Error(), "guest-word") {
		t.Errorf("%v", err)
	}
}

// A real full disk under a tablespace: nothing of a refused batch is kept, all
// that was kept before is there, and it goes on when there is room again.
func TestOutsideDiskFull(t *testing.T) {
	dir, err := os.MkdirTemp("/tmp", "trial-full-")
	if err != nil {
		t.Fatal(err)
	}
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=24m"); err != nil {
		t.Fatalf("a small disk needs root: %v", err)
	}
	name := fmt.Sprintf("full_%d", databases.Add(1))
	t.Cleanup(func() {
		for _, text := range []string{`DROP DATABASE IF EXISTS ` + name + ` WITH (FORCE)`, `DROP TABLESPACE IF EXISTS small`} {
			if _, err := server.Query(context.Background(), "postgres", text); err != nil {
				t.Error(err)
			}
		}
		syscall.Unmount(dir, syscall.MNT_DETACH)
		os.Remove(dir)
	})
	who, err := user.Lookup("postgres")
	if err != nil {
		t.Fatal(err)
	}
	uid, _ := strconv.Atoi(who.Uid)
	if err := os.Chown(dir, uid, -1); err != nil {
		t.Fatal(err)
	}
	for _, text := range []string{`CREATE TABLESPACE small LOCATION '` + dir + `'`, `CREATE DATABASE ` + name + ` TABLESPACE small`} {
		if _, err := server.Query(t.Context(), "postgres", text); err != nil {
			t.Fatal(err)
		}
	}
	s := openAt(t, server.Address(name), Options{})
	shelf, kept := town(t, s), uint32(0)
	for ; kept < 4000; kept += 8 {
		var recs []store.Held
		for i := range uint32(8) {
			recs = append(recs, image(20, kept+i, uint64(kept+i), 20000))
		}
		if _, err = shelf.Keep(t.Context(), recs); err != nil {
			break
		}
	}
	if !errors.Is(err, store.DiskFull) || !strings.Contains(err.Error(), "free some room") {
		t.Fatalf("after %d tiles: %v (%T), want a DiskFull", kept, err, err)
	}
	silent(t, err)
	holds(t, shelf, kept)
	if err := syscall.Mount("tmpfs", dir, "tmpfs", syscall.MS_REMOUNT, "size=60m"); err != nil {
		t.Fatal(err)
	}
	keep(t, shelf, image(20, kept, uint64(kept), 20000))
	holds(t, shelf, kept+1)
}

// holds reads the tiles 0 to n-1 of row 0 at zoom 20 and proves their images.
func holds(t *testing.T, s store.Shelf, n uint32) {
	t.Helper()
	var got uint32
	for r, err := range s.In(t.Context(), tiles.NewCover(20, []tiles.Span{{Row: 0, First: 0, Last: 1<<20 - 1}}), true) {
		if err != nil {
			t.Fatal(err)
		}
		if r.X != got {
			t.Fatalf("tile %d is missing", got)
		}
		got++
	}
	if got != n || n == 0 {
		t.Errorf("%d tiles are held, %d were kept", got, n)
	}
}

// TestOutsideUpgradeOfRegister: a schema of version 1 gains what is kept until a day, and
// a program of that version refuses it from then on: it would prune what is kept.
func TestOutsideUpgradeOfRegister(t *testing.T) {
	a := address(t)
	old, err := open(t.Context(), a, Options{}, steps()[:1])
	if err != nil {
		t.Fatal(err)
	}
	_, err = old.pool.Exec(t.Context(), first+`; UPDATE groundsheet.version SET version = 1;
		INSERT INTO groundsheet.jobs VALUES ('k1', 0, 'Valve 12', '', 'town-1', '', '[]', 5, 0)`, pgx.QueryExecModeSimpleProtocol)
	if err != nil {
		t.Fatal(err)
	}
	old.Close()
	s := openAt(t, a, Options{})
	k := store.Keeping{Until: "2027-03-01", Reason: "claim"}
	if known, err := s.KeepJob(t.Context(), "k1", k); err != nil || !known {
		t.Fatal(known, err)
	}
	jobs, err := s.Jobs(t.Context())
	if err != nil || len(jobs) != 1 || jobs[0].Name != "Valve 12" || jobs[0].Keep != k {
		t.Errorf("%+v, %v", jobs, err)
	}
	if _, err := open(t.Context(), a, Options{}, steps()[:1]); !errors.Is(err, store.Newer) {
		t.Errorf("%v", err)
	}
}
