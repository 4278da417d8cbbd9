//go:build linux

package fieldbook

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// cuts is how often the power is cut; the soak cuts more often.
var cuts = 10

// crewEnv names the book that a test's child writes without end.
const crewEnv = "FIELDBOOK_TEST_CREW"

func TestMain(m *testing.M) {
	if path := os.Getenv(crewEnv); path != "" {
		if weaker := os.Getenv("FIELDBOOK_TEST_PRAGMA"); weaker != "" {
			writing = append(writing, weaker)
		}
		if err := crew(path); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(3)
		}
	}
	os.Exit(m.Run())
}

// crew appends entries to a book until it is killed, and names each that was confirmed.
func crew(path string) error {
	b, err := Open(path, About{Name: "Larkwater"}, Options{})
	if err != nil {
		return err
	}
	run := os.Getenv("FIELDBOOK_TEST_RUN")
	for n := 0; ; n++ {
		e := reading(fmt.Sprintf("%s/%d", run, n))
		text := fmt.Appendf(nil, `{"layout":1,"id":%q,"mark":%q,"after":[],"action":"write","who":"%s","phone":%q,"clock":%q,"feature":{"type":"Feature",
			"geometry":{"type":"Point","coordinates":[1,2]},"properties":{"kind":"reading","utility":"gas"}}}`,
			e["id"], e["id"], strings.Repeat("x", n%190), e["phone"], e["clock"])
		receipts, err := b.Append(context.Background(), Sender{"s", "mark"}, [][]byte{text})
		if err != nil || receipts[0].Refused != "" {
			return errors.Join(err, fmt.Errorf("answered %v", receipts))
		}
		fmt.Println(receipts[0].ID)
	}
}

// forgetful builds the disk that forgets.
func forgetful(t *testing.T) string {
	t.Helper()
	library := filepath.Join(t.TempDir(), "powercut.so")
	if out, err := exec.Command("cc", "-shared", "-fPIC", "-O1", "-o", library, "testdata/powercut.c", "-ldl", "-lpthread").CombinedOutput(); err != nil {
		t.Skipf("no C compiler for the disk that forgets: %v %s", err, out)
	}
	return library
}

// runAndCut lets a crew write until so many entries are confirmed and the power is cut. It
// gives the confirmed IDs, and the folder as the cut left it.
func runAndCut(t *testing.T, library, dir, pragma string, run, confirmed int, r *rand.Rand) (ids []string, after string) {
	t.Helper()
	kept := t.TempDir()
	c := exec.Command(os.Args[0])
	c.Env = append(os.Environ(), "LD_PRELOAD="+library, "POWERCUT_DIR="+dir, "POWERCUT_KEPT="+kept,
		crewEnv+"="+filepath.Join(dir, "a.fieldbook"), "FIELDBOOK_TEST_PRAGMA="+pragma, fmt.Sprintf("FIELDBOOK_TEST_RUN=%d", run))
	c.Stderr = os.Stderr
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		if ids = append(ids, lines.Text()); len(ids) == confirmed {
			for range r.IntN(200_000) { // somewhere in the next append
			}
			_ = c.Process.Kill()
		}
	}
	if err := c.Wait(); c.ProcessState.ExitCode() != -1 {
		t.Fatalf("the crew ended by itself: %v", err)
	}
	return ids, afterCut(t, dir, kept, r)
}

// afterCut makes the folder that a power cut leaves: of what was not synced, each sector
// may have reached the disk or not, and each name may be there or not.
func afterCut(t *testing.T, dir, kept string, r *rand.Rand) string {
	t.Helper()
	after := t.TempDir()
	names, err := os.ReadFile(filepath.Join(kept, "names"))
	if err != nil {
		t.Fatal(err)
	}
	durable := map[string][]byte{}
	for line := range strings.Lines(string(names)) {
		name, id, _ := strings.Cut(strings.TrimSpace(line), " ")
		durable[name], _ = os.ReadFile(filepath.Join(kept, id)) // none: its content was never synced
	}
	current := map[string][]byte{}
	for _, name := range []string{"a.fieldbook", "a.fieldbook-journal"} {
		if data, err := os.ReadFile(filepath.Join(dir, name)); err == nil {
			current[name] = data
		}
		data, stays := durable[name]
		if now, is := current[name]; r.IntN(2) == 0 && is == stays && stays {
			data = torn(data, now, r)
		} else if r.IntN(4) == 0 && is != stays { // the folder reached the disk by itself
			data, stays = now, is
		}
		if !stays {
			continue
		}
		if err := os.WriteFile(filepath.Join(after, name), data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return after
}

// torn takes each sector from before or after, at random.
func torn(before, after []byte, r *rand.Rand) []byte {
	const sector = 512
	out := make([]byte, max(len(before), len(after)))
	if r.IntN(2) == 0 {
		out = out[:len(before)]
	}
	copy(out, before)
	for at := 0; at < min(len(after), len(out)); at += sector {
		if r.IntN(2) == 0 {
			copy(out[at:], after[at:min(at+sector, len(after))])
		}
	}
	return out
}

// lost opens what a cut left and gives the confirmed entries that are not there.
func lost(t *testing.T, dir string, confirmed []string) (missing int) {
	t.Helper()
	b, err := Open(filepath.Join(dir, "a.fieldbook"), About{}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	whole(t, b)
	all, err := b.all(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	held := map[string]bool{}
	for _, e := range all {
		held[e.ID] = true
	}
	for _, id := range confirmed {
		if !held[id] {
			missing++
		}
	}
	return missing
}

// TestPowerCut: after each cut every confirmed entry is there and the chain is whole, on a
// disk that forgets all that was not synced, or keeps any part of it. What it does not
// prove: that a real disk keeps what it says it has synced.
func TestPowerCut(t *testing.T) {
	library, r := forgetful(t), rand.New(rand.NewPCG(17, 4))
	dir, confirmed := t.TempDir(), []string(nil)
	for run := range cuts {
		ids, after := runAndCut(t, library, dir, "", run, 1+r.IntN(12), r)
		confirmed = append(confirmed, ids...)
		if n := lost(t, after, confirmed); n != 0 {
			t.Fatalf("cut %d: %d of %d confirmed entries are lost", run, n, len(confirmed))
		}
		dir = after
	}
	t.Logf("%d entries confirmed", len(confirmed))
}

// TestPowerCutIsFelt: the same disk loses entries of a book that syncs less, so that the
// test above would see it. With FULL the folder is not synced: a journal comes back.
func TestPowerCutIsFelt(t *testing.T) {
	library, r := forgetful(t), rand.New(rand.NewPCG(17, 5))
	missing := 0
	for run := 0; run < 20 && missing == 0; run++ {
		dir := t.TempDir()
		b := opened(t, filepath.Join(dir, "a.fieldbook"), Options{})
		appended(t, b, reading("first"))
		if err := b.Close(); err != nil {
			t.Fatal(err)
		}
		ids, after := runAndCut(t, library, dir, "synchronous=FULL", run, 3, r)
		missing += lost(t, after, ids)
	}
	if missing == 0 {
		t.Error("no power cut lost anything: the disk forgets nothing")
	}
}
