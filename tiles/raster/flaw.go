package raster

// Why names what is wrong with a tile, for callers that must tell flaws apart.
type Why string

// The flaws.
const (
	Empty     Why = "empty"        // no bytes at all
	HTML      Why = "html"         // a web page, often an error or a sign-in page
	XML       Why = "xml"          // an XML message, often a service exception
	NotImage  Why = "not an image" // anything else that is not PNG, JPEG or WebP
	Truncated Why = "truncated"    // the bytes stop before the image ends
	Checksum  Why = "bad checksum" // a PNG chunk does not match its CRC
	Broken    Why = "broken"       // the parts contradict the format, or do not decode
	Variant   Why = "variant"      // well formed, but a form that viewers do not show
	Trailing  Why = "trailing"     // other bytes than zeros follow the end
	WrongSize Why = "wrong size"   // not the pixels that were expected
	TooLarge  Why = "too large"    // more pixels than [Decode] is willing to hold
)

// Flaw is the error of [Prove] and [Decode]: the bytes are not the whole image
// they should be. It never quotes the bytes: an error page may repeat the
// secret of the request it answers.
type Flaw struct {
	Why    Why
	Detail string // in plain words, e.g. "an HTML page, not an image"
	Err    error  // the decoder's error, or nil
}

// Error gives the detail, with the decoder's words where there are any.
func (f *Flaw) Error() string {
	if f.Err != nil {
		return f.Detail + ": " + f.Err.Error()
	}
	return f.Detail
}

// Unwrap gives the decoder's error, or nil.
func (f *Flaw) Unwrap() error { return f.Err }

func flaw(why Why, detail string) error { return &Flaw{Why: why, Detail: detail} }
