//go:build soak

package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"slices"
	"time"
)

// sample is what the server held at one moment, by its own account.
type sample struct {
	at         time.Duration // since the phones came
	goroutines int
	files      int
	memory     int64 // bytes of its own
}

// watchServer notes what the server holds, each second until ctx ends.
func watchServer(ctx context.Context, base string, t *soakTally) (all []sample) {
	began := time.Now()
	for ; ctx.Err() == nil; pause(ctx, time.Second) {
		s, err := takeSample(ctx, base)
		if ctx.Err() != nil {
			return all
		}
		if err != nil {
			t.fault("status: %v", err)
			continue
		}
		s.at = time.Since(began)
		all = append(all, s)
	}
	return all
}

func takeSample(ctx context.Context, base string) (sample, error) {
	s, err := soakStatus(ctx, base)
	return sample{goroutines: s.Process.Goroutines, files: s.Process.Files, memory: s.Process.Memory}, err
}

// slack is how many goroutines and files more than before are no leak: a
// connection that is just being closed, the one that asks.
const slack = 4

// calm waits until the server holds no more than before the phones came, and
// says what is left when it does not.
func calm(ctx context.Context, base string, before sample, within time.Duration) (after sample, err error) {
	for began := time.Now(); ; pause(ctx, 500*time.Millisecond) {
		after, err = takeSample(ctx, base)
		if err != nil || ctx.Err() != nil {
			return after, err
		}
		if after.goroutines <= before.goroutines+slack && after.files <= before.files+slack {
			return after, nil
		}
		if time.Since(began) > within {
			return after, fmt.Errorf("%s after the phones went the server holds %d goroutines and %d files; before they came %d and %d",
				within, after.goroutines, after.files, before.goroutines, before.files)
		}
	}
}

// growth compares the middle of three parts of a soak with the last, by their
// medians: in the first one memory fills with what is kept.
func growth(all []sample) (middle, last int64, perMinute float64) {
	n := len(all) / 3
	if n == 0 {
		return 0, 0, 0
	}
	median := func(part []sample) (memory int64, at time.Duration) {
		sorted := slices.SortedFunc(slices.Values(part), func(a, b sample) int { return int(a.memory - b.memory) })
		return sorted[len(sorted)/2].memory, part[len(part)/2].at
	}
	middle, from := median(all[n : 2*n])
	last, to := median(all[2*n:])
	return middle, last, float64(last-middle) / (to - from).Minutes()
}

// steady says what is wrong with memory; nil when it stays. A soak of less than
// two minutes ends before all is warm, so more is let pass.
func steady(all []sample) error {
	middle, last, perMinute := growth(all)
	room := int64(8e6)
	if len(all) > 0 && all[len(all)-1].at < 2*time.Minute {
		room = 24e6
	}
	if room = max(room, middle/7); last-middle > room {
		return fmt.Errorf("memory grows: %.1f MB, then %.1f MB; %.2f MB a minute", float64(middle)/1e6, float64(last)/1e6, perMinute/1e6)
	}
	return nil
}

// without passes lines on but those with certain words.
type without struct {
	to    io.Writer
	words string
	rest  []byte // a line that has not ended yet
}

func (w *without) Write(p []byte) (int, error) {
	w.rest = append(w.rest, p...)
	for {
		line, after, whole := bytes.Cut(w.rest, []byte("\n"))
		if !whole {
			return len(p), nil
		}
		if !bytes.Contains(line, []byte(w.words)) {
			if _, err := fmt.Fprintf(w.to, "%s\n", line); err != nil {
				return 0, err
			}
		}
		w.rest = append([]byte(nil), after...)
	}
}
