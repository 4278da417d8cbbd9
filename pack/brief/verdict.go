package brief

import (
	"context"
	"time"

	"groundsheet/pack/check"
	"groundsheet/tiles/words"
)

// mostFaults are named on page one; check names the others.
const mostFaults = 8

// verdict is what check finds of the pack.
func (s *site) verdict(ctx context.Context, now func() time.Time) error {
	r, err := check.Run(ctx, s.pack.Path, check.Options{Now: now})
	if err != nil {
		return err
	}
	s.fit, s.faultCount = r.Verdict == check.Fit, r.Faults
	for _, f := range r.Findings {
		if f.Severity == check.Fault {
			s.faults = append(s.faults, tidy(f.Detail, 300))
		}
	}
	return nil
}

// verdictSection stands before anything else.
func (s site) verdictSection() section {
	if s.fit {
		return section{Title: words.Say("brief.fit_title"), Notes: []string{words.Say("brief.fit")}}
	}
	out := section{Title: words.Say("brief.not_fit_title"), Loud: true, Notes: []string{words.Say("brief.not_fit", "n", s.faultCount)}}
	for i, f := range s.faults {
		if i == mostFaults {
			out.Notes = append(out.Notes, words.Say("brief.more_faults", "n", s.faultCount-mostFaults))
			break
		}
		out.Notes = append(out.Notes, f)
	}
	return out
}
