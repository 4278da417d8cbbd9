package check

// kind is what findings of a kind are about, and what they mean.
type kind struct {
	of    subject
	means string
}

// subject is what has to change for a finding to go.
type subject string

const (
	ofFile   subject = "file"   // the pack: written again from the same job and store, it is gone
	ofJob    subject = "job"    // the job, its source or the time
	ofRecord subject = "record" // what is recorded; the finding was made at import
)

// kinds are all kinds of findings.
var kinds = map[string]kind{
	"damaged":             {ofFile, "the file's own structure is broken"},
	"missing":             {ofFile, "a wanted tile is not in the pack"},
	"hole":                {ofJob, "the source has no such tile; the map enlarges a shallower one there"},
	"blank":               {ofJob, "nothing to show: neither the tile nor any shallower one is in the pack"},
	"unreadable":          {ofFile, "a tile is not a whole image"},
	"undecodable":         {ofJob, "wanted images that the office store holds do not decode, and were not packed"},
	"wrong size":          {ofFile, "a tile is not of the size the pack states"},
	"wrong format":        {ofFile, "a tile is not of the format the pack declares"},
	"changed":             {ofFile, "a tile, or another part of the pack, is not what was packed"},
	"signature":           {ofJob, "the pack is not signed with the key it was checked with"},
	"unsealed":            {ofJob, "an earlier version wrote the pack, and it does not prove what it says"},
	"stray":               {ofFile, "a tile that the job does not want"},
	"impossible":          {ofFile, "a tile at a place that does not exist"},
	"too large":           {ofJob, "the pack is larger than the job's fit_in"},
	"ticket":              {ofJob, "the ticket's last valid day is past or not stated"},
	"outside":             {ofJob, "an overlay, or part of it, lies outside the packed area"},
	"date":                {ofJob, "a date that cannot be right"},
	"clock":               {ofJob, "the pack's own times are later than this computer's clock reads: one of two clocks is wrong"},
	"not stated":          {ofJob, "something a crew needs to know is not stated"},
	"unconfirmed":         {ofJob, "tiles that were no longer fresh when they were packed, and that the source could not confirm"},
	"no record":           {ofJob, "a utility that was notified has no overlay"},
	"nothing here":        {ofJob, "the record of a utility that was notified shows nothing in use on or near the dig area"},
	"not a site pack":     {ofJob, "another program's file: what it should hold is not known: compare it with a job"},
	"empty":               {ofFile, "the file holds no tile at all"},
	"placeholder":         {ofJob, "a picture that shows nothing of the ground: \"no imagery here\", or most likely so"},
	"terms":               {ofJob, "the terms of the source no longer allow keeping the tiles"},
	"job changed":         {ofJob, "the job is not what it was when the pack was written"},
	"old record":          {ofJob, "a record is older than the job's records_older_than"},
	"entry":               {ofJob, "a recorded line enters the dig area, or its tolerance zone reaches it"},
	"crossing":            {ofJob, "recorded lines cross, and which is above is not known"},
	"rule":                {ofJob, "a clearance rule that the job states is not met as recorded, or it is not known"},
	"no size":             {ofJob, "lines without a recorded size: their zones begin at the center"},
	"size not understood": {ofJob, "lines whose recorded size is no length: their zones begin at the center"},
	"leaves":              {ofJob, "recorded lines go on where the pack has no picture of its deepest zoom"},
	"record":              {ofJob, "something else to know of a record"},

	"left out":      {ofRecord, "a row of a table of readings that the map manager left out"},
	"row":           {ofRecord, "a row of a table of readings could not be read and is left out"},
	"columns":       {ofRecord, "how the columns of a table of readings were taken"},
	"units":         {ofRecord, "depths that look as if they were in another unit"},
	"type":          {ofRecord, "rows that state another utility than their overlay"},
	"state":         {ofRecord, "what records say of the state of lines, and words for it that are not understood"},
	"quality level": {ofRecord, "a quality level in words that are none of A to D"},
	"line":          {ofRecord, "by what the readings of a line were put in order"},
	"datum":         {ofRecord, "the datum of a record is not WGS 84 or not stated"},
	"swapped axes":  {ofRecord, "latitude and longitude of a record are exchanged"},
	"far away":      {ofRecord, "records that lie far from the job"},
	"coarse":        {ofRecord, "coordinates with too few decimals for a reading"},
	"duplicate":     {ofRecord, "two readings of one place"},
	"beside":        {ofRecord, "lines that run within reach of one another"},
	"end":           {ofRecord, "a line that ends just short of another"},
	"off line":      {ofRecord, "a reading that lies off its line"},
	"depth jump":    {ofRecord, "neighboring depths that do not fit together"},
	"current drop":  {ofRecord, "the current falls suddenly along a line"},
}

// OfFile reports whether the file is at fault: writing the pack again mends it.
func (f Finding) OfFile() bool { return kinds[f.Kind].of == ofFile }
