package plan

import "time"

// mostTurns bounds the days that are looked through for the end of fetching.
const mostTurns = 1000

// Ends is when fetching would be over if it began now, by its estimate of time and the
// hours and tiles a day of the terms; spent is what was taken of this day. It is false
// where the estimate knows no speed, and where it takes years.
func (p Plan) Ends(now time.Time, spent int) (at time.Time, ok bool) {
	t := p.Source.Terms
	left := float64(p.Fetch)
	if t == nil || p.Refused != nil || left > 0 && p.Seconds <= 0 {
		return now, false
	}
	rate := left / p.Seconds // a second
	at = now
	for range mostTurns {
		if left <= 0 {
			return at, true
		}
		at = t.NextOpening(at)
		open := min(left, rate*t.Closing(at).Sub(at).Seconds())
		today := open
		if t.TilesPerDay > 0 {
			today = min(open, max(float64(t.TilesPerDay-spent), 0))
		}
		day := t.Day(at)
		at = at.Add(time.Duration(today / rate * float64(time.Second)))
		if left -= today; left > 0 && today < open { // the rest of the day is lost
			for t.Day(at) == day {
				at = at.Truncate(time.Minute).Add(time.Minute)
			}
		}
		if spent += int(today); t.Day(at) != day {
			spent = 0
		}
	}
	return at, false
}
