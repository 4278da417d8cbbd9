package check

// subject is what has to change for a finding to go.
type subject string

const (
	ofFile   subject = "file"   // the pack: written again from the same job and store, it is gone
	ofJob    subject = "job"    // the job, its source or the time
	ofRecord subject = "record" // what is recorded; the finding was made at import
)

// kinds are all kinds of findings.
var kinds = bySubject(map[subject][]string{
	ofFile: {
		"damaged", "missing", "unreadable", "wrong size", "wrong format", "changed", "stray", "impossible", "empty",
	},
	ofJob: {
		"hole", "blank", "undecodable", "signature", "unsealed", "too large", "ticket", "outside", "date", "clock",
		"not stated", "unconfirmed", "no record", "nothing here", "not a site pack", "placeholder", "terms",
		"job changed", "old record", "entry", "crossing", "rule", "no size", "size not understood", "leaves",
		"record",
	},
	ofRecord: {
		"left out", "row", "columns", "units", "type", "state", "quality level", "line", "datum", "swapped axes",
		"far away", "coarse", "duplicate", "beside", "end", "off line", "tangle", "depth jump", "current drop",
	},
})

func bySubject(lists map[subject][]string) map[string]subject {
	all := map[string]subject{}
	for of, kinds := range lists {
		for _, kind := range kinds {
			all[kind] = of
		}
	}
	return all
}

// OfFile reports whether the file is at fault: writing the pack again mends it.
func (f Finding) OfFile() bool { return kinds[f.Kind] == ofFile }
