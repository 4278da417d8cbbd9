package httpcache

import (
	"net/http"
	"testing"
)

// RFC 9111, 4.3.4, with the comparisons of RFC 9110, 8.8.3.2.
func TestConfirmed(t *testing.T) {
	for name, c := range map[string]struct {
		stored Validators
		sent   http.Header
		want   bool
	}{
		"nothing was asked":            {Validators{}, headers("ETag", `"a"`), false},
		"no validator sent":            {Validators{ETag: `"a"`}, nil, true},
		"strong, equal":                {Validators{ETag: `"a"`}, headers("ETag", `"a"`), true},
		"strong, another":              {Validators{ETag: `"a"`}, headers("ETag", `"b"`), false},
		"strong against weak":          {Validators{ETag: `W/"a"`}, headers("ETag", `"a"`), false},
		"weak":                         {Validators{ETag: `"a"`}, headers("ETag", `W/"a"`), true},
		"weak, another":                {Validators{ETag: `"a"`}, headers("ETag", `W/"b"`), false},
		"dates equal":                  {Validators{LastModified: "x"}, headers("Last-Modified", "x"), true},
		"dates differ":                 {Validators{LastModified: "x"}, headers("Last-Modified", "y"), false},
		"a tag decides over the dates": {Validators{`"a"`, "x"}, headers("ETag", `"a"`, "Last-Modified", "y"), true},
	} {
		if got := c.stored.Confirmed(c.sent); got != c.want {
			t.Errorf("%s: %v", name, got)
		}
	}
}

// RFC 9111, 5.2.2: which responses may be stored, and which fields of them.
func TestDirectives(t *testing.T) {
	for control, c := range map[string]struct {
		noStore, private bool
		etag             string
	}{
		"":                          {false, false, `"a"`},
		"no-store":                  {true, false, `"a"`},
		"No-Store, Must-Understand": {false, false, `"a"`},
		"private":                   {false, true, `"a"`},
		`private=""`:                {false, true, `"a"`},
		`private="ETag, X"`:         {false, false, ""},
		`x="no-store, private"`:     {false, false, `"a"`},
	} {
		r := response(headers("Cache-Control", control, "ETag", `"a"`), 200, day)
		if r.NoStore() != c.noStore || r.Control.Private() != c.private || r.Validator("ETag") != c.etag {
			t.Errorf("%q: no-store %v, private %v, ETag %q", control, r.NoStore(), r.Control.Private(), r.Validator("ETag"))
		}
	}
}
