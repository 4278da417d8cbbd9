package raster

import "groundsheet/tiles/fault"

// The kinds of the errors of [Prove] and [Decode]. Their details never quote the
// bytes: an error page may repeat the secret of the request it answers.
var (
	Empty     = fault.Input("empty")        // no bytes at all
	HTML      = fault.Input("html")         // a web page, often an error or a sign-in page
	XML       = fault.Input("xml")          // an XML message, often a service exception
	NotImage  = fault.Input("not an image") // anything else that is not PNG, JPEG or WebP
	Truncated = fault.Input("truncated")    // the bytes stop before the image ends
	Checksum  = fault.Input("bad checksum") // a PNG chunk does not match its CRC
	Broken    = fault.Input("broken")       // the parts contradict the format, or do not decode
	Variant   = fault.Input("variant")      // well formed, but a form that viewers do not show
	Trailing  = fault.Input("trailing")     // other bytes than zeros follow the end
	WrongSize = fault.Input("wrong size")   // not the pixels that were expected
	TooLarge  = fault.Input("too large")    // more pixels than [Decode] is willing to hold
)

func flaw(kind *fault.Kind, detail string) error { return &fault.Fault{Kind: kind, Detail: detail} }
