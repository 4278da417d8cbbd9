package sqlite

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"
)

const tileQuery = `SELECT d FROM t WHERE a=? AND b=? AND c=?`

func made(t testing.TB, schema string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "a b?.db")
	db := Open(path, Options{Settings: "mode=rwc"})
	defer db.Close()
	if _, err := db.Exec(schema); err != nil {
		t.Fatal(err)
	}
	return path
}

func reader(t testing.TB, path string, o ReaderOptions) *Reader {
	t.Helper()
	if o.Query == "" {
		o.Query = tileQuery
	}
	r, err := NewReader(path, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := r.Close(); err != nil {
			t.Error(err)
		}
	})
	return r
}

func TestReader(t *testing.T) {
	path := made(t, `CREATE TABLE t(a,b,c,d); INSERT INTO t VALUES(1,2,3,x'0102'),(1,2,4,'text'),(1,2,5,NULL),(1,2,6,7),(1,2,7,zeroblob(0)),(1,2,8,zeroblob(5000))`)
	r := reader(t, path, ReaderOptions{Untrusted: Untrusted{Longest: 4000}})
	for c, want := range map[int64][]byte{3: {1, 2}, 4: []byte("text"), 5: nil, 7: {}, 99: nil} {
		if got, err := r.Blob(t.Context(), 1, 2, c); err != nil || !bytes.Equal(got, want) || (got == nil) != (want == nil) {
			t.Errorf("%d: %v, %v; want %v", c, got, err, want)
		}
	}
	if got, err := r.Blob(t.Context(), 1, 2, 6); err == nil {
		t.Errorf("a number came as %v", got)
	}
	if _, err := r.Blob(t.Context(), 1, 2, 8); Sort(err) != TooLong {
		t.Errorf("a blob beyond the limit: %v", err)
	}
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := r.Blob(ended, 1, 2, 3); !errors.Is(err, context.Canceled) {
		t.Errorf("nobody waits any more: %v", err)
	}
}

func TestReaderRefuses(t *testing.T) {
	path := made(t, `CREATE TABLE t(a,b,c,d)`)
	exchanged := errors.New("exchanged")
	for name, o := range map[string]ReaderOptions{
		"no table": {Query: `SELECT d FROM none WHERE a=? AND b=? AND c=?`},
		"another":  {Query: tileQuery, Untrusted: Untrusted{Confirm: func() error { return exchanged }}},
	} {
		if _, err := NewReader(path, o); err == nil {
			t.Errorf("%s: opened", name)
		} else if name == "another" && !errors.Is(err, exchanged) {
			t.Error(err)
		}
	}
	if all, err := os.ReadDir("/proc/self/fd"); err == nil {
		for _, fd := range all {
			if to, _ := os.Readlink("/proc/self/fd/" + fd.Name()); strings.Contains(to, "a b?.db") {
				t.Errorf("%s is still open", to)
			}
		}
	}
}

// endless is a view of even numbers that never says that an odd one is not there.
const endless = `CREATE VIEW t AS WITH RECURSIVE n(x) AS (SELECT 1 UNION ALL SELECT x+1 FROM n) SELECT 1 AS a, 2 AS b, x*2 AS c, x'00' AS d FROM n`

// TestEndlessReadIsBrokenOff: also while all connections are busy with such,
// and the connection can be used again.
func TestEndlessReadIsBrokenOff(t *testing.T) {
	const limit = 100 * time.Millisecond
	r := reader(t, made(t, endless), ReaderOptions{Connections: 2, Limit: limit})
	routines := runtime.NumGoroutine()
	var wg sync.WaitGroup
	for range 6 {
		wg.Go(func() {
			began := time.Now()
			if _, err := r.Blob(t.Context(), 1, 2, 1); !errors.Is(err, ErrTooSlow) || Sort(err) != TooSlow {
				t.Error(err)
			}
			if took := time.Since(began); took > 100*limit {
				t.Errorf("it took %v", took)
			}
		})
	}
	wg.Wait()
	for range 4 {
		if got, err := r.Blob(t.Context(), 1, 2, 6); err != nil || len(got) != 1 {
			t.Errorf("afterwards: %v, %v", got, err)
		}
	}
	for began := time.Now(); runtime.NumGoroutine() > routines; time.Sleep(time.Millisecond) {
		if time.Since(began) > 20*time.Second {
			t.Fatalf("%d goroutines, %d before", runtime.NumGoroutine(), routines)
		}
	}
}

// BenchmarkReader reads 2,000 blobs of 18 KB in no order, beside the same blobs
// as files and through database/sql.
func BenchmarkReader(b *testing.B) {
	const n, size = 2000, 18 << 10
	dir := b.TempDir()
	path := filepath.Join(dir, "a.db")
	db := Open(path, Options{Settings: "mode=rwc"})
	if _, err := db.Exec(`CREATE TABLE t(a integer,b integer,c integer,d blob); CREATE UNIQUE INDEX i ON t(a,b,c);
		WITH RECURSIVE n(x) AS (SELECT 0 UNION ALL SELECT x+1 FROM n WHERE x<1999) INSERT INTO t SELECT 18, x, x, randomblob(18432) FROM n`); err != nil {
		b.Fatal(err)
	}
	if err := db.Close(); err != nil {
		b.Fatal(err)
	}
	for i := range n {
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprint(i)), bytes.Repeat([]byte{1}, size), 0o644); err != nil {
			b.Fatal(err)
		}
	}
	r := reader(b, path, ReaderOptions{})
	db = OpenUntrusted(path, Untrusted{})
	defer db.Close()
	stmt, err := db.Prepare(tileQuery)
	if err != nil {
		b.Fatal(err)
	}
	for _, way := range []struct {
		name string
		read func(i int64) (int, error)
	}{
		{"reader", func(i int64) (int, error) { data, err := r.Blob(b.Context(), 18, i, i); return len(data), err }},
		{"database-sql", func(i int64) (int, error) {
			var data []byte
			err := stmt.QueryRowContext(b.Context(), 18, i, i).Scan(&data)
			return len(data), err
		}},
		{"files", func(i int64) (int, error) {
			data, err := os.ReadFile(filepath.Join(dir, fmt.Sprint(i)))
			return len(data), err
		}},
	} {
		b.Run(way.name, func(b *testing.B) {
			b.SetBytes(size)
			b.ReportAllocs()
			b.RunParallel(func(pb *testing.PB) {
				for pb.Next() {
					if got, err := way.read(rand.Int64N(n)); err != nil || got != size {
						b.Errorf("%d bytes, %v", got, err)
					}
				}
			})
		})
	}
}
