//go:build soak

package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"groundsheet/tiles/sqlite"
)

// soakPacks is the folder of the served pack: two good versions of it, and one
// that is none.
type soakPacks struct {
	served string   // the path that the server was given
	good   []string // versions to put there, one after the other
	bad    string
	base   string // address of the server
	swaps  int    // exchanges that took over
	kept   int    // bad files that were refused
}

// makeSoakPacks copies a pack. The second version holds a table of another program,
// which no seal covers, so that it is another file and fit.
func makeSoakPacks(ctx context.Context, pack, folder string) (*soakPacks, error) {
	if err := os.RemoveAll(folder); err != nil {
		return nil, err
	}
	if err := os.MkdirAll(filepath.Join(folder, "served"), 0o755); err != nil {
		return nil, err
	}
	s := &soakPacks{
		served: filepath.Join(folder, "served", "pack.mbtiles"), bad: filepath.Join(folder, "bad"),
		good: []string{filepath.Join(folder, "one"), filepath.Join(folder, "two")},
	}
	for _, to := range append([]string{s.served}, s.good...) {
		if err := copyFile(pack, to); err != nil {
			return nil, err
		}
	}
	db := sqlite.Open(s.good[1], sqlite.Options{Settings: "mode=rw"})
	if _, err := db.ExecContext(ctx, `CREATE TABLE another (note text)`); err != nil {
		return nil, err
	}
	if err := db.Close(); err != nil {
		return nil, err
	}
	return s, os.WriteFile(s.bad, []byte("this is no pack"), 0o644)
}

func copyFile(from, to string) error {
	data, err := os.ReadFile(from)
	if err != nil {
		return err
	}
	return os.WriteFile(to, data, 0o644)
}

// put renames a copy of a file over the served one, as packing does.
func (s *soakPacks) put(from string) error {
	part := s.served + ".part"
	if err := copyFile(from, part); err != nil {
		return err
	}
	return os.Rename(part, s.served)
}

// takesOver is how long the server may take to serve an exchanged pack: it
// looks each second, twice, and the machine may be busy.
const takesOver = 20 * time.Second

// swap exchanges the pack and waits until the server serves the new version;
// every fourth time what comes first is no pack, and must change nothing.
func (s *soakPacks) swap(ctx context.Context, n int) error {
	before, err := s.state(ctx)
	if err != nil {
		return err
	}
	if n%4 == 3 {
		if err := s.put(s.bad); err != nil {
			return err
		}
		after, err := s.wait(ctx, "it does not tell that a file is no pack", func(p soakPack) bool { return p.Trouble != "" })
		if err != nil {
			return err
		}
		if after.Version != before.Version {
			return fmt.Errorf("a file that is no pack took over: %+v", after)
		}
		s.kept++
	}
	if err := s.put(s.good[n%2]); err != nil {
		return err
	}
	_, err = s.wait(ctx, "an exchanged pack does not take over", func(p soakPack) bool { return p.Version != before.Version && p.Trouble == "" })
	if err == nil {
		s.swaps++
	}
	return err
}

// soakPack is what status.json says of a pack.
type soakPack struct{ Version, Trouble string }

func (s *soakPacks) state(ctx context.Context) (soakPack, error) {
	status, err := soakStatus(ctx, s.base)
	if err != nil {
		return soakPack{}, err
	}
	if len(status.Packs) != 1 {
		return soakPack{}, fmt.Errorf("%d packs are served", len(status.Packs))
	}
	return status.Packs[0], nil
}

func (s *soakPacks) wait(ctx context.Context, otherwise string, done func(soakPack) bool) (soakPack, error) {
	for began := time.Now(); ; pause(ctx, 200*time.Millisecond) {
		p, err := s.state(ctx)
		if err != nil || ctx.Err() != nil || done(p) {
			return p, err
		}
		if time.Since(began) > takesOver {
			return p, fmt.Errorf("%s within %s: %+v", otherwise, takesOver, p)
		}
	}
}

// soakState is what the harness needs of status.json.
type soakState struct {
	Packs   []soakPack
	Failed  int64 `json:"requests_failed"`
	Process struct {
		Goroutines int
		Files      int   `json:"open_files"`
		Memory     int64 `json:"memory_bytes"`
	}
	Troubles []struct{ Text string }
}

func soakStatus(ctx context.Context, base string) (s soakState, err error) {
	return s, getJSON(ctx, base+"/status.json", &s)
}
