package serve

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"io"
	"io/fs"
	"math/rand/v2"
	"net/http"
	"os"
	"os/exec"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"groundsheet/pack/fieldbook"
	"groundsheet/serve/listen"
	"groundsheet/tiles/raster"
)

// kills is how often the server is killed; the soak kills more often.
var kills = 10

// killedEnv names the pack that a test's child serves until it is killed.
const killedEnv = "SERVE_TEST_KILLED"

// serveUntilKilled serves a pack and says where.
func serveUntilKilled(t *testing.T, path string) {
	s, err := Open(t.Context(), []string{path}, Options{Page: page})
	if err != nil {
		t.Fatal(err)
	}
	t.Fatal(s.Listen(context.Background(), "127.0.0.1:0", func(o listen.Access) { fmt.Println("at " + o.Addr.String()) }))
}

// served is a server that can be killed.
type served struct {
	*exec.Cmd
	book string // the address of the book
}

func startServed(t *testing.T, path string) *served {
	t.Helper()
	s := &served{Cmd: exec.Command(os.Args[0], "-test.run", "^TestKilledFieldBook$")}
	s.Env = append(os.Environ(), killedEnv+"="+path)
	s.Stderr = os.Stderr
	out, err := s.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Process.Kill() })
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		if at, is := strings.CutPrefix(lines.Text(), "at "); is {
			s.book = "http://" + at + "/packs/site-one/book"
			return s
		}
	}
	t.Fatal("the server did not begin")
	return nil
}

// recorder is a phone that marks: what was not confirmed, it sends again.
type recorder struct {
	name      string
	r         *rand.Rand
	way       *http.Transport
	written   int
	pending   []string // texts
	photo     []byte   // on its way; nil = none
	photos    int
	confirmed map[string]fieldbook.Receipt
	kept      []string // hashes of photos that the server has
}

// do sends a request and reads JSON; false when the server is gone.
func (p *recorder) do(method, url, media string, body []byte, to any) bool {
	r, err := http.NewRequestWithContext(context.Background(), method, url, bytes.NewReader(body))
	if err != nil {
		return false
	}
	r.Header.Set("Content-Type", media)
	resp, err := p.way.RoundTrip(r)
	if err != nil {
		return false
	}
	defer resp.Body.Close()
	got, err := io.ReadAll(resp.Body)
	return err == nil && resp.StatusCode == 200 && json.Unmarshal(got, to) == nil
}

// step sends what is pending, or a piece of a photo.
func (p *recorder) step(at string, more bool) bool {
	if p.photo != nil {
		return p.sendPiece(at)
	}
	for range p.r.IntN(3) + 1 {
		if more {
			p.pending = append(p.pending, markText(fmt.Sprintf("%s/%d", p.name, p.written), "kill"))
			p.written++
		}
	}
	if more && p.r.IntN(4) == 0 {
		p.takePhoto()
	}
	if len(p.pending) == 0 {
		return true
	}
	body, err := json.Marshal(map[string]any{"entries": p.pending})
	var answer struct{ Receipts []fieldbook.Receipt }
	if err != nil || !p.do("POST", at+"/entries", "application/json", body, &answer) {
		return false
	}
	for _, r := range answer.Receipts {
		p.confirmed[r.ID] = r
	}
	p.pending = nil
	return true
}

// takePhoto makes a picture unlike any other.
func (p *recorder) takePhoto() {
	img := image.NewGray(image.Rect(0, 0, 300, 300))
	for i := range img.Pix {
		img.Pix[i] = byte(p.r.Uint32())
	}
	p.photo, _ = raster.Encode(img, raster.JPG)
	p.photos++
}

func (p *recorder) sendPiece(at string) bool {
	name := fmt.Sprintf("%x", sha256.Sum256(p.photo))
	var s fieldbook.Stored
	if !p.do("GET", at+"/photos/"+name+"/have", "", nil, &s) {
		return false
	}
	if !s.Done {
		piece := p.photo[s.Have:min(s.Have+20_000, int64(len(p.photo)))]
		url := fmt.Sprintf("%s/photos/%s?at=%d&of=%d&type=image/jpeg", at, name, s.Have, len(p.photo))
		if !p.do("PUT", url, "application/octet-stream", piece, &s) {
			return false
		}
	}
	if s.Done {
		p.kept, p.photo = append(p.kept, name), nil
	}
	return true
}

// TestKilledFieldBook kills the server at random moments while eight phones send marks and
// photos. Every one that was confirmed is there, none is there twice, the chain is whole,
// and what was not confirmed gets there when it is sent again.
func TestKilledFieldBook(t *testing.T) {
	if path := os.Getenv(killedEnv); path != "" {
		serveUntilKilled(t, path)
	}
	path, r := makePack(t, "Site one"), rand.New(rand.NewPCG(1, uint64(time.Now().UnixNano())))
	phones := make([]*recorder, 8)
	for i := range phones {
		phones[i] = &recorder{name: fmt.Sprint("phone ", i), r: rand.New(rand.NewPCG(7, uint64(i))), way: &http.Transport{}, confirmed: map[string]fieldbook.Receipt{}}
		t.Cleanup(phones[i].way.CloseIdleConnections)
	}
	during := func(s *served, work func(p *recorder)) {
		var all sync.WaitGroup
		for _, p := range phones {
			all.Go(func() { work(p) })
		}
		all.Wait()
	}
	for range kills {
		s := startServed(t, path)
		time.AfterFunc(time.Duration(20+r.IntN(200))*time.Millisecond, func() { _ = s.Process.Kill() })
		during(s, func(p *recorder) {
			for p.step(s.book, true) {
			}
		})
		_ = s.Wait()
		provePhones(t, path, phones, false)
	}
	s := startServed(t, path)
	during(s, func(p *recorder) {
		for len(p.pending) > 0 || p.photo != nil {
			if !p.step(s.book, false) {
				t.Errorf("%s: not taken", p.name)
				return
			}
		}
	})
	_ = s.Process.Kill()
	_ = s.Wait()
	provePhones(t, path, phones, true)
}

// provePhones proves that the book holds what the phones had confirmed; at the end, all
// that they wrote.
func provePhones(t *testing.T, path string, phones []*recorder, end bool) {
	t.Helper()
	if _, err := os.Stat(fieldbook.Path(path)); errors.Is(err, fs.ErrNotExist) && !end && !slices.ContainsFunc(phones, func(p *recorder) bool { return len(p.confirmed) > 0 }) {
		return // killed before the first entry, which makes the book
	}
	b, err := fieldbook.Read(fieldbook.Path(path))
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	v, err := b.Verify(t.Context())
	if err != nil || !v.Whole() {
		t.Fatalf("%v, %v", v.Faults, err)
	}
	held := map[string]fieldbook.Receipt{}
	for after := int64(0); ; {
		some, err := b.Entries(t.Context(), after, 1000)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range some {
			if _, twice := held[e.ID]; twice {
				t.Fatalf("%s is there twice", e.ID)
			}
			held[e.ID], after = fieldbook.Receipt{ID: e.ID, Number: e.Number, Hash: e.Hash}, e.Number
		}
		if len(some) == 0 {
			break
		}
	}
	written, photos := 0, 0
	for _, p := range phones {
		for id, r := range p.confirmed {
			if held[id] != r {
				t.Fatalf("%s was confirmed as %+v, the book has %+v", p.name, r, held[id])
			}
		}
		for _, name := range p.kept {
			if s, err := b.Have(t.Context(), name); err != nil || !s.Done {
				t.Fatalf("%s: a photo was confirmed and is not there: %+v, %v", p.name, s, err)
			}
		}
		written, photos = written+p.written, photos+p.photos
	}
	if end && (len(held) != written || v.Photos != photos || written == 0 || photos == 0) {
		t.Errorf("%d entries and %d photos of %d and %d", len(held), v.Photos, written, photos)
	}
	if end {
		t.Logf("%d entries, %d photos", written, photos)
	}
	if slices.ContainsFunc(v.Notes, func(note string) bool { return strings.Contains(note, "set back") }) {
		t.Log(v.Notes)
	}
}
