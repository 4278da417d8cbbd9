package main

import (
	"fmt"
	"slices"
	"testing"
	"testing/synctest"
	"time"
)

// An instrument that sends a line that is not understood every second: five are said as they come,
// then one after 10 s, 20 s, 40 s and so on to ten minutes. After ten quiet minutes all begins anew.
func TestTellerFallsQuiet(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		began := time.Now()
		var said []string
		s := &teller{every: tellEvery, first: tellFirst, most: tellMost, say: func(string) { said = append(said, time.Since(began).String()) }}
		for i := range 3600 {
			s.tell(fmt.Sprint(i), false)
			time.Sleep(time.Second)
		}
		want := []string{"0s", "1s", "2s", "3s", "4s", "14s", "34s", "1m14s", "2m34s", "5m14s", "10m34s", "20m34s", "30m34s", "40m34s", "50m34s"}
		if !slices.Equal(said, want) {
			t.Errorf("%q, want %q", said, want)
		}
		time.Sleep(time.Hour)
		said = nil
		s.tell("back", false)
		s.tell("gone", false)
		s.stop()
		if len(said) != 2 {
			t.Errorf("after a quiet hour: %q", said)
		}
	})
}

// However often a receiver loses its fix, the terminal says so once in ten seconds, and in the
// end how it is; of a recording with gaps each state once.
func TestTeller(t *testing.T) {
	for name, c := range map[string]struct {
		recorded bool
		want     []string
	}{
		"live":     {false, []string{"0s fix", "10s none", "20s fix", "30s none", "31.5s over"}},
		"recorded": {true, []string{"0s fix", "10s none", "31s over"}},
	} {
		synctest.Test(t, func(t *testing.T) {
			began := time.Now()
			var said []string
			s := &teller{every: 10 * time.Second, say: func(text string) { said = append(said, time.Since(began).String()+" "+text) }}
			for i := range 62 { // a state each half a second, the same for both moments after ten
				s.tell([]string{"fix", "none"}[(i+i/20)%2], c.recorded)
				time.Sleep(time.Second / 2)
			}
			s.tell("over", c.recorded)
			time.Sleep(time.Second / 2)
			s.stop()
			time.Sleep(time.Minute)
			if !slices.Equal(said, c.want) {
				t.Errorf("%s: %v, want %v", name, said, c.want)
			}
		})
	}
}
