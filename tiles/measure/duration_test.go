package measure

import (
	"math"
	"regexp"
	"strings"
	"testing"
	"time"
)

func TestDuration(t *testing.T) {
	for d, want := range map[time.Duration]string{
		0: "0 s", -time.Hour: "0 s", math.MinInt64: "0 s", time.Nanosecond: "1 s", 1400 * time.Millisecond: "1 s", 59400 * time.Millisecond: "59 s",
		59600 * time.Millisecond: "1 min", 150 * time.Second: "2 min 30 s", 180 * time.Second: "3 min", 3599700 * time.Millisecond: "1 h",
		3900 * time.Second: "1 h 5 min", 2 * time.Hour: "2 h", 86370 * time.Second: "1 d", 86369 * time.Second: "23 h 59 min", 25 * time.Hour: "1 d 1 h", 90 * 24 * time.Hour: "90 d",
		596523 * time.Hour: "68 y", math.MaxInt64: "292 y",
	} {
		if got := Duration(d); got != want {
			t.Errorf("%v: %q, want %q", d, got, want)
		}
	}
}

// FuzzDuration: at most two units, the smaller one below what makes the larger.
func FuzzDuration(f *testing.F) {
	f.Add(int64(3599_999_999_999))
	f.Add(int64(86_370_000_000_000))
	form := regexp.MustCompile(`^(\d+ (d|h|min|s)|\d+ d \d\d? h|\d\d? h \d\d? min|\d\d? min \d\d? s|[\d.]+ y)$`)
	f.Fuzz(func(t *testing.T, ns int64) {
		got := Duration(time.Duration(ns))
		if !form.MatchString(got) || strings.HasPrefix(got, "60 ") || strings.HasSuffix(got, " 60 s") || strings.HasSuffix(got, " 60 min") || strings.HasSuffix(got, " 24 h") || got == "24 h" {
			t.Errorf("%d ns: %q", ns, got)
		}
	})
}
