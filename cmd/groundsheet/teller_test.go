package main

import (
	"slices"
	"testing"
	"testing/synctest"
	"time"
)

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
