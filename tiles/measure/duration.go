package measure

import (
	"fmt"
	"math"
	"time"
)

// Duration is a length of time as people say it, in the two units that matter:
// "2 min 30 s", "1 h 5 min", "3 d 4 h"; from two years on as [Age] says it.
// What is more than nothing is at least "1 s"; below 0 counts as nothing.
func Duration(d time.Duration) string {
	s := int64(math.Round(d.Seconds()))
	minutes := (s + 30) / 60
	switch {
	case d <= 0:
		return "0 s"
	case d >= 2*8766*time.Hour:
		return Age(d).String()
	case s < 1:
		return "1 s"
	case minutes >= 24*60:
		return twoUnits((s+1800)/3600, 24, "d", "h")
	case s >= 3600:
		return twoUnits(minutes, 60, "h", "min")
	case s >= 60:
		return twoUnits(s, 60, "min", "s")
	default:
		return fmt.Sprintf("%d s", s)
	}
}

// twoUnits splits an amount of the smaller unit.
func twoUnits(small, each int64, large, unit string) string {
	if small%each == 0 {
		return fmt.Sprintf("%d %s", small/each, large)
	}
	return fmt.Sprintf("%d %s %d %s", small/each, large, small%each, unit)
}
