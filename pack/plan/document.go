package plan

import "groundsheet/pack"

// Document is the shape of plan --json. Fields are added, never renamed.
type Document struct {
	Job       string         `json:"job"`
	Source    string         `json:"source"`
	Zooms     []ZoomPlan     `json:"zooms"`
	Tiles     int64          `json:"tiles"`
	Fetch     int64          `json:"fetch"`
	Bytes     int64          `json:"bytes_estimate"`
	Seconds   float64        `json:"seconds_estimate"`
	Guessed   bool           `json:"guessed"`
	Timed     bool           `json:"timed"` // seconds rest on what the source was seen to answer
	FitIn     int64          `json:"fit_in"`
	Fits      bool           `json:"fits"`
	Advice    Advice         `json:"advice"`
	Proposals []Proposal     `json:"proposals"`
	Suspects  []pack.Suspect `json:"suspects"` // held images that are most likely no imagery
	Days      int64          `json:"days"`     // that fetching takes by the daily budget; 0 = none stated
	Notes     []string       `json:"notes"`    // what was left out of the job's files or assumed
	Refused   *string        `json:"refused"`
}

// Document gives the plan in its JSON shape.
func (p Plan) Document() Document {
	d := Document{
		Job: p.Job.Name, Source: p.Source.Name, Zooms: p.Zooms, Tiles: p.Tiles, Fetch: p.Fetch,
		Bytes: p.Bytes, Seconds: p.Seconds, Guessed: p.Guessed, Timed: p.Timed, FitIn: int64(p.Job.FitIn), Fits: p.Fits(),
		Advice: p.Advice, Proposals: p.Proposals,
		Suspects: p.Suspects, Days: p.Days,
	}
	if p.Refused != nil {
		why := p.Refused.Error()
		d.Refused = &why
	}
	if d.Zooms == nil {
		d.Zooms = []ZoomPlan{}
	}
	if d.Notes = p.Notes; d.Notes == nil {
		d.Notes = []string{}
	}
	if d.Suspects == nil {
		d.Suspects = []pack.Suspect{}
	}
	if d.Proposals == nil {
		d.Proposals = []Proposal{}
	}
	return d
}
