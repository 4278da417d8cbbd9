package store

import (
	"context"
	"errors"
	"iter"
	"regexp"
	"time"

	"groundsheet/tiles"
)

// Store is a set of shelves and the jobs that were packed from them. It is
// safe for use by several goroutines.
type Store interface {
	// Shelf is the part of the store for one source. Nothing is read or made
	// yet. A name is 1 to 80 letters, digits and dashes.
	Shelf(name string) (Shelf, error)
	// Shelves are the names of the shelves that were written, in order.
	Shelves(ctx context.Context) ([]string, error)
	// Jobs are the jobs that were packed, in the order of their keys and bases.
	Jobs(ctx context.Context) ([]PackedJob, error)
	// NoteJob puts a base of a job into the register or replaces it.
	NoteJob(ctx context.Context, j PackedJob) error
	// CloseJob marks every base of a job as closed, at the zero time as open
	// again; false when no job has the key. NoteJob opens one base again.
	CloseJob(ctx context.Context, key string, at time.Time) (bool, error)
	// KeepJob states that nothing of a job may be pruned until a day, whatever its
	// bases are; false when no job has the key. NoteJob and CloseJob leave it as it
	// is. The zero value of k takes it back.
	KeepJob(ctx context.Context, key string, k Keeping) (bool, error)
	// Where names the store in messages: a folder, or a database without its
	// password.
	Where() string
	// Close closes every shelf. Reads that still run end with an error.
	Close() error
}

// Shelf is what is held of one source. It is safe for use by several
// goroutines and processes.
type Shelf interface {
	Name() string
	Reader
	Writer
	Maintenance
}

// Reader looks at what is held.
type Reader interface {
	// In yields what is held of a cover in tile order, holes too; images only
	// when data is true, each proved by its hash ([Damaged] when it fails).
	// After an error nothing follows. The caller may write to the shelf while
	// it walks; what it then meets is as it was or as it is.
	CoverReader
	// Get is one tile with its image; false when it is not held.
	Get(ctx context.Context, t tiles.ID) (Held, bool, error)
	// Measured gives what is held of every zoom that holds something.
	Measured(ctx context.Context) (map[int]Measure, error)
	// Repeated lists the images that stand at no fewer than so many places,
	// the most repeated first, at most 1000 of them.
	Repeated(ctx context.Context, places int) ([]Repeat, error)
	// PerSecond is how many requests a second the source answered in the latest
	// runs; 0 when none has been timed.
	PerSecond(ctx context.Context) (float64, error)
	// Spent is what runs have taken of the daily budget of a day.
	Spent(ctx context.Context, day string) (int, error)
	// Pause is the [Pace.Until] that the latest run handed over, past or not. It
	// is zero when there is none, or a run has the lease or was killed in it.
	Pause(ctx context.Context) (time.Time, error)
}

// Writer takes what a fetcher brings.
type Writer interface {
	// Keep writes records in one transaction and returns when they are on the
	// disk. A tile that is held already is replaced, an image that no tile uses
	// any more is dropped. Hash and Bytes are worked out here unless [Hashed] did;
	// Data is not looked at after the return. The context is
	// looked at before the transaction, not within it. Errors: [DiskFull],
	// [Damaged], [Newer], [Unreachable] or a plain one; then nothing of the
	// batch is kept.
	Keep(ctx context.Context, recs []Held) (Kept, error)
	// Renew marks held tiles as confirmed by the source: the times, validators
	// and marks are taken from the records, the images stay. It returns when
	// that is on the disk. A tile that is not held is a [NotHeld]; then
	// nothing of the batch is written.
	Renew(ctx context.Context, recs []Held) error
	// Timed keeps how long a run of fetching took. Short runs are left out.
	Timed(ctx context.Context, requests int, took time.Duration) error
	// Lease waits until no other run asks this source, in this process or
	// another, so that two runs neither ask for the same tiles nor double the
	// rate that the terms allow. waiting is told once when there is somebody to
	// wait for; it may be nil.
	Lease(ctx context.Context, waiting func()) (Lease, error)
}

// Maintenance keeps the shelf in order.
type Maintenance interface {
	// All yields every record in tile order; images when data is true, not
	// proved: the caller compares them with Hash.
	All(ctx context.Context, data bool) iter.Seq2[Held, error]
	// Drop takes tiles out; images that no tile uses any more go too. Tiles
	// that are not held are passed over.
	Drop(ctx context.Context, ids []tiles.ID) error
	// Size is what the shelf holds and the room it takes.
	Size(ctx context.Context) (Size, error)
	// GiveBack gives room that is not used any more back to the disk, where
	// the engine can, and says how many bytes.
	GiveBack(ctx context.Context) (int64, error)
	// Sound has the engine look for damage of its own files. Flaws are data,
	// in words; an error means that it could not look.
	Sound(ctx context.Context) (flaws []string, err error)
	// Orphans counts images that no tile uses, and drops them when told.
	Orphans(ctx context.Context, drop bool) (int64, error)
}

// Lease is the right to ask a source. It ends with Release, or with the
// process, however that ends.
type Lease interface {
	// RateState is what the run before left. It is false when that run ended
	// without handing over: then nothing is known of its latest requests.
	RateState() (RateState, bool)
	// Wanted reports whether another run waits for the lease.
	Wanted(ctx context.Context) (bool, error)
	// Spend takes up to n requests from what limit allows on a day ("2026-11-25")
	// and says how many it got. They are taken when it returns, whatever
	// happens next. Without a limit (0) it gets all of them, counted too.
	Spend(ctx context.Context, day string, n, limit int) (granted int, err error)
	// Unspend gives back requests that were taken and not sent.
	Unspend(ctx context.Context, day string, n int) error
	// Release hands the lease over. It may be called once.
	Release(ctx context.Context, p RateState) error
}

// RateState is what a run must know of the requests before its own.
type RateState struct {
	Left  []time.Time // when the latest requests left, oldest first, by the clock of this machine
	Until time.Time   // nobody asks before; zero = no pause
	Share float64     // of the stated rate, after the source asked for less; 0 = all of it
}

// Held is a tile as it is held: an image with its origin, or a hole, which
// means that the source said it has no such tile.
type Held struct {
	tiles.Tile            // Data only when asked for; times are kept to the microsecond
	Hash        [32]byte  // SHA-256 of the image; zero for a hole
	Bytes       int       // length of the image; 0 for a hole
	Hole        bool      // the source says it has none
	Media       string    // "jpg", "png" or "webp"; "" for a hole
	Fixed       bool      // the source forbids changing the image (RFC 9111, 5.2.2.6: no-transform)
	Immutable   bool      // the source says it does not change while fresh (RFC 8246)
	UsableUntil time.Time // stale, it may stand in until then when the source fails (RFC 5861, stale-if-error); zero = no

	hashed *byte // the first of the bytes that Hash was made of by [Hashed]
}

// Measure is what is held of one zoom.
type Measure struct {
	Tiles     int     // images held, repeated ones counted each time
	Holes     int     // tiles the source says it does not have
	MeanBytes float64 // of the images, repeated ones counted each time; 0 without any
}

// Repeat is one image that stands at several places.
type Repeat struct {
	Hash   [32]byte
	Places int
	Some   []tiles.ID // some of the places, at most 64, spread over them
}

// Kept is what a batch changed.
type Kept struct {
	New     int // images where none was held
	Changed int // images where another one was held
	Same    int // images that were held already, byte for byte
	Holes   int // tiles that are holes now
	Gone    int // of Holes: an image was held there
}

// Count adds one tile: whether it had an image before the batch, whether it has one
// now, and whether both are the same.
func (k *Kept) Count(had, has, same bool) {
	switch {
	case !has && had:
		k.Holes++
		k.Gone++
	case !has:
		k.Holes++
	case !had:
		k.New++
	case same:
		k.Same++
	default:
		k.Changed++
	}
}

// Bounds of the statistics that every store keeps.
const (
	MostRepeats = 1000 // images that [Reader].Repeated lists
	MostPlaces  = 64   // places it names for one
	TimedRuns   = 20   // latest runs that [Reader].PerSecond is the mean of
	FewestTimed = 20   // requests of a run that is timed; fewer are mostly start-up
)

// PlaceStep is the step at which a store walks all places of an image to name at most
// [MostPlaces], evenly spread.
func PlaceStep(all int) int { return (all + MostPlaces - 1) / MostPlaces }

// ErrClosed is the error of a store that was closed.
var ErrClosed = errors.New("the store is closed")

// ErrReleased is the error of a lease that was released.
var ErrReleased = errors.New("the lease to fetch was released already")

// Size is what a shelf holds.
type Size struct {
	Tiles  int64 // images in place, repeated ones counted each time
	Holes  int64
	Images int64 // distinct
	Bytes  int64 // on the disk; what the engine takes for all of it, without room that it keeps free
	Oldest time.Time
	Newest time.Time // of the times fetched or confirmed; zero without tiles
}

// PackedJob is one base of a job as the store remembers it.
type PackedJob struct {
	Key    string // names the job for good: the computer and the folder
	Base   int    // from 0
	Name   string
	Number string
	Shelf  string // name of the shelf it was packed from
	Pack   string // the file
	Covers []tiles.Cover
	Packed time.Time
	Closed time.Time // zero = open
	Keep   Keeping   // of all bases of the job; NoteJob does not look at it
}

// Open reports whether the job may still need its tiles.
func (j PackedJob) Open() bool { return j.Closed.IsZero() }

// Keeping states that nothing of a job may be pruned, for a claim or the like. Its
// zero value states nothing.
type Keeping struct {
	Until  string // the last day, "2027-03-01", by the calendar of who asks; "" = not stated
	Reason string
}

// On reports whether it still holds at a time.
func (k Keeping) On(now time.Time) bool { return k.Until != "" && now.Format(time.DateOnly) <= k.Until }

// GoodName reports whether a shelf may have the name.
func GoodName(name string) bool {
	return regexp.MustCompile(`^[A-Za-z0-9-]{1,80}$`).MatchString(name)
}
