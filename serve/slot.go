package serve

import (
	"errors"
	"os"
	"sync/atomic"
	"time"

	"groundsheet/pack"
	"groundsheet/tiles/words"
)

// slot is one path that is served. Its id stays the same while the file there is
// exchanged. Only the looker changes it, except for now.
type slot struct {
	id     string // "" until a pack was opened there for the first time
	path   string
	folder string               // the folder it was found in; "" = it was named itself
	now    atomic.Pointer[site] // nil = nothing is served at present

	seen    os.FileInfo // the newest file that was looked at; nil = there was none
	refused os.FileInfo // the file that Trouble is about, so that it is not tried again
	trouble string
}

// site is one opened pack, under the id it has in addresses. It is closed when
// the slot has let it go and no request uses it any more.
type site struct {
	id    string
	pack  *pack.Pack
	tag   string                           // changes when the pack does; part of every tile's address and ETag
	large map[string]*large                // the overlays that come as vector tiles
	docs  map[string]func() (asset, error) // by what follows the pack in the address; made once, when first asked for
	turn  chan struct{}                    // one place for whoever reads a document
	since time.Time
	users atomic.Int64 // requests, and the slot; 0 = closed

	shallow   int      // the zoom from which on tiles are shrunk
	serial    uint64   // of all packs that this server opened
	keep, ask []string // Cache-Control: of an address with this version in it, and of others
	query     string   // of an address with this version in it
	version   []string // the header that names it

	verdict atomic.Pointer[Verdict] // nil = not checked yet

	health  atomic.Int32 // what reading its tiles showed
	resting atomic.Int64 // until when they are not read, in nanoseconds since 1970; 0 = they are
	pause   atomic.Int64 // how long the latest rest was, in nanoseconds
}

func newSite(id string, p *pack.Pack, serial uint64, since time.Time) *site {
	s := &site{
		id: id, pack: p, tag: p.Version(), turn: make(chan struct{}, 1), since: since, serial: serial,
		keep: []string{keepTile}, ask: []string{"no-cache"}, query: "v=" + p.Version(), version: []string{p.Version()},
	}
	s.shallow = s.shallowest()
	s.users.Store(1)
	s.documents()
	s.largeOnes()
	return s
}

// release ends one use; the last one closes the file.
func (p *site) release() {
	if p.users.Add(-1) == 0 {
		_ = p.pack.Close() // it was only read
	}
}

// take gives what the slot serves and keeps it open until its release; nil when
// nothing is served.
func (l *slot) take() *site {
	for {
		p := l.now.Load()
		if p == nil {
			return nil
		}
		for n := p.users.Load(); n > 0; n = p.users.Load() {
			if p.users.CompareAndSwap(n, n+1) {
				return p
			}
		}
		// It was closed since it was read: another one is there by now.
	}
}

// put exchanges what is served; nil for nothing. It gives what was served.
func (l *slot) put(p *site) *site {
	old := l.now.Swap(p)
	if old != nil {
		old.release()
	}
	return old
}

// What reading the tiles of a pack showed.
const (
	well int32 = iota
	slow
	damaged
)

// ill is what reading its tiles showed, in words; "" = nothing.
func (p *site) ill() string {
	switch p.health.Load() {
	case slow:
		return words.Say("laptop.slow")
	case damaged:
		return words.Say("laptop.damaged")
	}
	return ""
}

// rest keeps a pack from being read for a while, twice as long each time.
func (p *site) rest(now time.Time) {
	if p.resting.Load() > now.UnixNano() {
		return // another request found it too slow just now
	}
	pause := min(max(time.Second, 2*time.Duration(p.pause.Load())), time.Minute)
	p.pause.Store(int64(pause))
	p.resting.Store(now.Add(pause).UnixNano())
	p.health.CompareAndSwap(well, slow)
}

// rested is noted when a tile could be read.
func (p *site) rested() {
	if p.resting.Load() != 0 {
		p.resting.Store(0)
		p.pause.Store(0)
		p.health.CompareAndSwap(slow, well)
	}
}

// sameFile reports whether two looks at a path saw the same file, unchanged.
func sameFile(a, b os.FileInfo) bool {
	if a == nil || b == nil {
		return a == nil && b == nil
	}
	return os.SameFile(a, b) && a.Size() == b.Size() && a.ModTime().Equal(b.ModTime())
}

// why is an error in words for the state of a pack; its path is told beside it.
func why(err error) string {
	var not *pack.NotPack
	if errors.As(err, &not) {
		return not.Why + ": " + not.Remedy
	}
	return err.Error()
}
