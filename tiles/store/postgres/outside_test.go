//go:build outside

package postgres

import (
	"context"
	"flag"
	"fmt"
	"os"
	"strings"
	"sync/atomic"
	"testing"

	"groundsheet/tiles/store"
	"groundsheet/tiles/store/postgres/trial"
	"groundsheet/tiles/store/storetest"
)

// The tests of this package need PostgreSQL (Debian: postgresql). One server
// serves them all; each has a database of its own.

// server is the one of all tests, started by the first.
var server *trial.Server

var databases atomic.Int32

// TestMain also turns the test binary into another computer's program.
func TestMain(m *testing.M) {
	if what := os.Getenv(asProgram); what != "" {
		if err := program(context.Background(), what); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	flag.Parse()
	os.Exit(withServer(m))
}

func withServer(m *testing.M) int {
	settings := []string{"fsync=off"} // servers are killed here, computers are not
	if flag.Lookup("test.bench").Value.String() != "" {
		settings = nil
	}
	s, err := trial.Start(context.Background(), settings...)
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer s.Close()
	server = s
	return m.Run()
}

// address is that of an empty database.
func address(t testing.TB) string {
	t.Helper()
	name := fmt.Sprintf("office_%d", databases.Add(1))
	if err := server.Database(t.Context(), name); err != nil {
		t.Fatal(err)
	}
	return server.Address(name)
}

func openAt(t testing.TB, address string, o Options) *Store {
	t.Helper()
	s, err := Open(t.Context(), address, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func TestOutsideContract(t *testing.T) {
	// The suite has a store for each case; few connections each.
	addresses := map[string]string{}
	storetest.Run(t, storetest.Suite{
		Open: func(t *testing.T) store.Store {
			a := address(t)
			s := openAt(t, a, Options{Connections: 3})
			addresses[s.Where()] = a
			return s
		},
		Again: func(t *testing.T, s store.Store) store.Store {
			return openAt(t, addresses[s.Where()], Options{Connections: 3})
		},
	})
}

// query asks as whoever owns the database.
func query(t testing.TB, address, text string) string {
	t.Helper()
	out, err := server.Query(t.Context(), databaseOf(address), text)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func databaseOf(address string) string {
	name, _, _ := strings.Cut(address[strings.LastIndex(address, "/")+1:], "?")
	return name
}
