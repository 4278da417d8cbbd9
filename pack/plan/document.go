package plan

import "groundsheet/pack"

// Document is what a plan comes to, as plan --json prints it. Fields are added, never renamed.
type Document struct {
	JobName    string         `json:"job"`
	SourceName string         `json:"source"`
	Zooms      []ZoomPlan     `json:"zooms"`
	Tiles      int64          `json:"tiles"`
	Fetch      int64          `json:"fetch"`
	Bytes      int64          `json:"bytes_estimate"`
	Seconds    float64        `json:"seconds_estimate"`
	Guessed    bool           `json:"guessed"` // some of Bytes rests on a default, not on measured tiles
	Timed      bool           `json:"timed"`   // Seconds rests on the measured speed of the source, not on the terms alone
	FitIn      int64          `json:"fit_in"`
	Fits       bool           `json:"fits"` // see [Plan.Fits]
	Advice     Advice         `json:"advice"`
	Proposals  []Proposal     `json:"proposals"` // what could be given up, when the estimate is over fit_in
	Suspects   []pack.Suspect `json:"suspects"`  // held images that are most likely no imagery, the most frequent first
	Days       int64          `json:"days"`      // that fetching takes by the daily budget, today counted; 0 = none is stated or nothing to fetch
	Notes      []string       `json:"notes"`     // what was left out of the job's files or assumed
	Refused    *string        `json:"refused"`   // why it may not be fetched; nil when it may
}
