package fieldbook

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/paulmach/orb"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/lockfile"
	"groundsheet/tiles/sqlite"
)

// Extension is the end of a field book's name.
const Extension = ".fieldbook"

// Path is where the field book of a pack lies: beside it.
func Path(pack string) string {
	if base := strings.TrimSuffix(pack, ".mbtiles"); base != "" {
		pack = base
	}
	return pack + Extension
}

// The kinds of faults of a book.
var (
	NotBook  = fault.Input("not a field book")
	ReadOnly = fault.Input("read only")
	NoRoom   = fault.Outside("no room")
	Damaged  = fault.Outside("damaged")
	Busy     = fault.Outside("busy")
	Denied   = fault.Outside("denied")
)

// About says what a book belongs to. The book keeps what it was made with.
type About struct {
	Book    string    // 32 hex digits, made with the book
	Made    time.Time // by the laptop's clock
	Name    string    // of the job
	Number  string    // of the job
	Program string    // that made the book
	Seal    string    // of the pack; "" = it has none
	Later   []string  // seals of other versions of the pack that it was used with
}

// Options of an opened book. The zero value is fine.
type Options struct {
	Now  func() time.Time // nil = the computer's clock
	Area orb.Bound        // of the pack, in degrees: marks far from it are refused; empty = none is
}

// Book is a field book. It is safe for concurrent use.
type Book struct {
	path string
	o    Options
	read bool // only, or closed

	mu      sync.Mutex
	db      *sql.DB // nil = the file is not made yet
	about   About
	used    string       // seal of the pack that it is used with; the next entry notes it
	release func() error // of the lock; nil = not taken
	copied  string       // folder of a copy that is read; "" = none
}

// writing has each commit on the disk before it returns: the file by FULL, and the
// folder from which the journal went by EXTRA (SQLite, "PRAGMA synchronous"). Without the
// folder, a journal that comes back after a power cut would take the commit back.
var writing = []string{"synchronous=EXTRA", "fullfsync=ON", "trusted_schema=OFF", "cell_size_check=ON", "mmap_size=0"}

// Open opens the book at a path to be written. Where there is no file, the first entry or
// photo makes it, and nothing before. The error is a fault of one of the kinds above.
func Open(path string, about About, o Options) (*Book, error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	b := &Book{path: path, o: o, about: about, used: about.Seal}
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		if err := tryWriting(path); err != nil {
			return nil, err
		}
		return b, nil
	case err != nil:
		return nil, &fault.Fault{Kind: Denied, Place: path, Detail: "the field book cannot be read", Err: err}
	case info.IsDir():
		return nil, notBook(path, "a folder is in its place")
	}
	if err := b.connect(context.Background(), "rw"); err != nil {
		return nil, err
	}
	return b, nil
}

// tryWriting proves that a file can be made beside a path; it leaves none.
func tryWriting(path string) error {
	f, err := os.CreateTemp(filepath.Dir(path), ".groundsheet-*")
	if sqlite.Sort(err) == sqlite.NoRoom {
		return nil // the first mark is told so
	}
	if err != nil {
		return &fault.Fault{Kind: Denied, Place: path, Detail: "the field book cannot be written", Err: err, Remedy: deniedRemedy}
	}
	return errors.Join(f.Close(), os.Remove(f.Name()))
}

// LockExtension is the end of the name of the file that says who writes into a book.
const LockExtension = ".lock"

// connect opens the file to be written, which one run at a time does.
func (b *Book) connect(ctx context.Context, mode string) error {
	lock := b.path + LockExtension
	release, err := lockfile.Take(lock, "groundsheet serve")
	switch {
	case errors.Is(err, lockfile.ErrHeld):
		return &fault.Fault{Kind: Busy, Place: b.path, Detail: "another server writes into the field book", Err: errors.New(lockfile.Holder(lock)),
			Remedy: "one server at a time takes marks for a pack: end the other one"}
	case sqlite.Sort(err) == sqlite.NoRoom:
		return b.explain(err)
	case err != nil:
		return &fault.Fault{Kind: Denied, Place: b.path, Detail: "the field book cannot be written", Err: err, Remedy: deniedRemedy}
	}
	b.release, b.db = release, connect(b.path, mode)
	if err := b.load(ctx); err != nil {
		return errors.Join(err, b.close())
	}
	return nil
}

func connect(path, mode string) *sql.DB {
	db := sqlite.Open(path, sqlite.Options{Settings: "mode=" + mode + "&_txlock=immediate&_busy_timeout=10000", Pragmas: writing})
	db.SetMaxOpenConns(1)
	return db
}

// Path is where the file is, or will be.
func (b *Book) Path() string { return b.path }

// About is what the book belongs to.
func (b *Book) About() About {
	b.mu.Lock()
	defer b.mu.Unlock()
	about := b.about
	about.Later = slices.Clone(about.Later)
	return about
}

// ensure makes the file when there is none. The caller holds mu.
func (b *Book) ensure(ctx context.Context) error {
	if b.read {
		return &fault.Fault{Kind: ReadOnly, Place: b.path, Detail: "the field book was opened to be read"}
	}
	if b.db != nil {
		return nil
	}
	return b.connect(ctx, "rwc")
}

// Use says with which version of its pack the book is used from now on, and the box of its
// area. The next entry notes the seal.
func (b *Book) Use(seal string, area orb.Bound) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.o.Area, b.used = area, seal
	if b.db == nil {
		b.about.Seal = seal
	}
}

const deniedRemedy = "look whether you may write into its folder, or name another one: serve --fieldbook FOLDER"

func notBook(path, detail string) error {
	return &fault.Fault{Kind: NotBook, Place: path, Detail: detail, Remedy: "move it away, or name another folder for field books"}
}

// explain gives an error of the database its kind and a remedy.
func (b *Book) explain(err error) error {
	if err == nil {
		return nil
	}
	f := &fault.Fault{Place: b.path, Err: err}
	if errors.As(err, new(*fault.Fault)) {
		return err // it was explained where it was found
	}
	switch sqlite.Sort(err) {
	case sqlite.NoRoom:
		f.Kind, f.Detail, f.Remedy = NoRoom, "the disk takes no more", "make room; what is in the field book is whole"
	case sqlite.Damaged:
		f.Kind, f.Detail, f.Remedy = Damaged, "the field book cannot be read", "keep the file as it is and move it away: a new one begins"
	case sqlite.Busy:
		f.Kind, f.Detail, f.Remedy = Busy, "another program holds the field book", "close it, such as a second server or a SQLite tool"
	case sqlite.Denied:
		f.Kind, f.Detail, f.Remedy = Denied, "the field book cannot be written", deniedRemedy
	default:
		return fmt.Errorf("%s: %w", b.path, err)
	}
	return f
}
