package folder

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"testing"
	"time"

	"groundsheet/tiles/store"
)

const killedBatch = 16

// killedRecord is the n-th tile of the killed writer; every third image repeats.
func killedRecord(n uint32) store.Held {
	return image(20, n%1000, n/1000, uint64(n-n%3), 500+int(n%37)*500)
}

// writeUntilKilled keeps batches for ever and says on stdout which ones Keep
// returned for.
func writeUntilKilled(dir string) {
	var n uint32
	fmt.Sscan(os.Getenv("STORE_TEST_FROM"), &n)
	st, err := Open(dir)
	if err != nil {
		panic(err)
	}
	s, _ := st.shelf("killed")
	for {
		recs := make([]store.Held, killedBatch)
		for i := range recs {
			recs[i] = killedRecord(n + uint32(i))
		}
		if _, err := s.Keep(context.Background(), recs); err != nil {
			panic(err)
		}
		n += killedBatch
		fmt.Println(n)
	}
}

// runAndKill starts the writer, kills it after a while and gives the tiles it
// had acknowledged.
func runAndKill(t *testing.T, dir string, from uint32, after time.Duration) uint32 {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), "STORE_TEST_WRITER="+dir, fmt.Sprint("STORE_TEST_FROM=", from))
	var complaint bytes.Buffer
	cmd.Stderr = &complaint
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	time.AfterFunc(after, func() { cmd.Process.Kill() })
	kept := from
	for lines := bufio.NewScanner(out); lines.Scan(); {
		fmt.Sscan(lines.Text(), &kept)
	}
	cmd.Wait()
	if complaint.Len() > 0 {
		t.Fatalf("the writer failed by itself: %s", complaint.String())
	}
	return kept
}

// Nothing that Keep returned for is lost when the process is killed.
func TestKilledWriter(t *testing.T) {
	dir := t.TempDir()
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 0))
	var kept uint32
	for range 10 {
		kept = runAndKill(t, dir, kept, time.Duration(30+rng.IntN(250))*time.Millisecond)
		st, err := Open(dir)
		if err != nil {
			t.Fatal(err)
		}
		s, _ := st.shelf("killed")
		for n := range kept {
			want := killedRecord(n)
			got, ok, err := s.Get(context.Background(), want.ID)
			if err != nil || !ok || !same(got, want) {
				t.Fatalf("tile %d of %d acknowledged: held %v, %v", n, kept, ok, err)
			}
		}
		if kept > 0 {
			var verdict string
			if err := s.db.QueryRow("PRAGMA integrity_check").Scan(&verdict); err != nil || verdict != "ok" {
				t.Fatalf("integrity: %q, %v", verdict, err)
			}
		}
		st.Close()
	}
	if kept == 0 {
		t.Fatal("no writer lived long enough to keep anything")
	}
	t.Logf("%d tiles acknowledged over 10 kills, all held", kept)
}
