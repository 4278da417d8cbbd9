package fetch

import (
	"testing"
	"time"
)

// Between the failure and the pause after it another request may be answered,
// which ends the outage: the pause and its end are still those of a first try.
func TestAnsweredBeforeThePause(t *testing.T) {
	o := outage{most: time.Hour}
	if !o.goesOn(&Stop{outage: true}) {
		t.Fatal("it does not go on")
	}
	o.answered()
	pause, end, first := o.next(time.Second)
	if left := time.Until(end); pause < 7*time.Second || left < 59*time.Minute || left > time.Hour || !first {
		t.Errorf("a pause of %v, until in %v, first %v", pause, left, first)
	}
}
