package job

import (
	"time"

	"groundsheet/pack/record"
	"groundsheet/pack/record/derive"
)

// ComputeOptions are the options for deriving data from the job's records. The datum
// shift is that of the year of now, so that a pack does not change from day to day.
func (j Job) ComputeOptions(now time.Time) derive.Options {
	o := derive.Options{
		Uncertainty: true, Gap: j.DepthGap.Meters(), Limits: derive.Limits{Slope: j.DepthSlope},
		SanityOptions: record.SanityOptions{Year: float64(now.UTC().Year()), Units: j.Units},
		Rules:         j.Rules,
	}
	if t := j.Tolerance; t != nil {
		o.EachSide, o.Uncertainty = t.EachSide.Meters(), !t.HideUncertainty
	}
	return o
}
