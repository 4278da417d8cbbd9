package fetch

import (
	"log/slog"
	"net/http"
	"time"

	"groundsheet/tiles/fetch/httpget"
)

// Options are what a caller may set; the zero value is good.
type Options struct {
	Client       *http.Client                      // nil = one made for the source's terms; redirects are always handled here
	Unpaced      bool                              // no pace: for a source on this computer
	Now          func() time.Time                  // nil = time.Now; stamps tiles, decides hours and days, does not drive the pace
	Progress     func(Tally)                       // nil = none; at most 10 times a second and once at the end, never concurrently
	Waiting      func()                            // called once when another run has the lease; nil = none
	Patient      bool                              // wait for the hour, the day or a long Retry-After instead of stopping
	Pausing      func(until time.Time, why string) // called before such a wait; nil = none
	KeepTrying   time.Duration                     // how long a failing source is asked again after its last answer, with growing pauses; 0 = not at all
	Trying       func(until time.Time, why string) // called once at the first such pause: when the run gives up, and why; nil = none
	StandIn      bool                              // any held tile may stand in if the source fails, even if the source did not allow it
	PassEvery    time.Duration                     // how often to check whether another run waits for the lease; 0 = 2 s
	RecoverEvery time.Duration                     // time without a 429 after which the rate grows by a tenth; 0 = 30 s
	BatchSize    int                               // tiles in one write to the store; 0 = 128
	BatchEvery   time.Duration                     // longest time before a tile is written; 0 = 1 s
	MaxBytes     int64                             // longest response accepted for a tile; 0 = 8 MiB
	Attempts     int                               // tries for one tile; 0 = 4
	Backoff      time.Duration                     // wait before the first retry, doubled each time, up to 30 s; 0 = 500 ms
	Timeout      time.Duration                     // for one request with its response; 0 = 60 s
	Log          *slog.Logger                      // nil = none; the key never appears
}

func (o Options) filled() Options {
	o.PassEvery = or(o.PassEvery, 2*time.Second)
	o.RecoverEvery = or(o.RecoverEvery, 30*time.Second)
	o.BatchSize = or(o.BatchSize, 128)
	o.BatchEvery = or(o.BatchEvery, time.Second)
	o.MaxBytes = or(o.MaxBytes, httpget.MaxTile)
	o.Attempts = or(o.Attempts, 4)
	o.Backoff = or(o.Backoff, 500*time.Millisecond)
	o.Timeout = or(o.Timeout, time.Minute)
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Progress == nil {
		o.Progress = func(Tally) {}
	}
	if o.Waiting == nil {
		o.Waiting = func() {}
	}
	if o.Pausing == nil {
		o.Pausing = func(time.Time, string) {}
	}
	if o.Trying == nil {
		o.Trying = func(time.Time, string) {}
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	return o
}

func or[T int | int64 | time.Duration](v, fallback T) T {
	if v <= 0 {
		return fallback
	}
	return v
}
