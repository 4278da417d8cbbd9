package measure

import "time"

// Moment formats a time for people on site, followed by UTC: "2026-11-28,
// 3:57 PM MST (22:57 UTC)". On a computer whose clock is on UTC it is UTC alone.
func Moment(t time.Time) string {
	local, utc := t.Local(), t.UTC()
	text := local.Format("2006-01-02, 3:04 PM MST")
	_, offset := local.Zone()
	switch {
	case offset == 0:
		return utc.Format("2006-01-02 15:04 MST")
	case local.Day() == utc.Day():
		return text + utc.Format(" (15:04 MST)")
	}
	return text + utc.Format(" (2006-01-02 15:04 MST)")
}
