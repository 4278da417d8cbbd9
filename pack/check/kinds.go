package check

import "maps"

// Kinds of findings, with what each means.
func Kinds() map[string]string {
	kinds := map[string]string{
		"damaged":             "the file's own structure is broken",
		"missing":             "a wanted tile is not in the pack",
		"hole":                "the source has no such tile; the map enlarges a shallower one there",
		"blank":               "nothing to show: neither the tile nor any shallower one is in the pack",
		"unreadable":          "a tile is not a whole image",
		"wrong size":          "a tile is not of the size the pack states",
		"wrong format":        "a tile is not of the format the pack declares",
		"changed":             "a tile, or another part of the pack, is not what was packed",
		"signature":           "the pack is not signed with the key it was checked with",
		"unsealed":            "an earlier version wrote the pack, and it does not prove what it says",
		"stray":               "a tile that the job does not want",
		"impossible":          "a tile at a place that does not exist",
		"too large":           "the pack is larger than the job's fit_in",
		"ticket":              "the ticket's last valid day is past or not stated",
		"outside":             "an overlay, or part of it, lies outside the packed area",
		"date":                "a date that cannot be right",
		"clock":               "the pack's own times are later than this computer's clock reads: one of two clocks is wrong",
		"not stated":          "something a crew needs to know is not stated",
		"unconfirmed":         "tiles that were no longer fresh when they were packed, and that the source could not confirm",
		"no record":           "a utility that was notified has no overlay",
		"nothing here":        "the record of a utility that was notified shows nothing in use on or near the dig area",
		"not a site pack":     "another program's file: what it should hold is not known: compare it with a job",
		"empty":               "the file holds no tile at all",
		"placeholder":         "a picture that shows nothing of the ground: \"no imagery here\", or most likely so",
		"terms":               "the terms of the source no longer allow keeping the tiles",
		"job changed":         "the job is not what it was when the pack was written",
		"old record":          "a record is older than the job's records_older_than",
		"entry":               "a recorded line enters the dig area, or its tolerance zone reaches it",
		"crossing":            "recorded lines cross, and which is above is not known",
		"rule":                "a clearance rule that the job states is not met as recorded, or it is not known",
		"no size":             "lines without a recorded size: their zones begin at the center",
		"size not understood": "lines whose recorded size is no length: their zones begin at the center",
		"leaves":              "recorded lines go on where the pack has no picture of its deepest zoom",
		"record":              "something else to know of a record",
	}
	maps.Copy(kinds, recordKinds())
	return kinds
}
