package fetch_test

import (
	"net/http"
	"time"

	"groundsheet/tiles/fetch"
)

const hour = time.Hour

// ago is an HTTP date before now.
func ago(d time.Duration) string { return time.Now().Add(-d).UTC().Format(http.TimeFormat) }

func fields(f ...string) said { return said{fields: f} }

func answer(status int, f ...string) *said { return &said{status: status, fields: f} }

// conformance is the table: the sections are those of RFC 9110 (HTTP), 9111
// (caches), 6585 (more status codes), 5861 (stale-if-error), 8246 (immutable).
func conformance() []rule {
	return concat(keeping(), lifetimes(), confirming(), absences(), standing())
}

func concat(parts ...[]rule) (all []rule) {
	for _, p := range parts {
		all = append(all, p...)
	}
	return all
}

func keeping() []rule {
	other := picture(256, 7, false)
	return []rule{
		{rule: "9111 3: nothing speaks against keeping", says: fields(), kept: "image"},
		{rule: "9111 5.2.2.5: no-store is not kept", says: fields("Cache-Control: no-store"), stop: fetch.StopNoStore, kept: "nothing"},
		{rule: "9111 5.2.2.5: no-store among others, any case", says: fields("Cache-Control: max-age=60", "Cache-Control: No-Store"), stop: fetch.StopNoStore, kept: "nothing"},
		{rule: "9111 5.2.2.5: kept with a permission of its own", may: true, says: fields("Cache-Control: no-store, max-age=3600"), kept: "image", want: traits{fresh: hour}},
		{rule: "9111 5.2.2.3: must-understand takes no-store back for 200", says: fields("Cache-Control: no-store, must-understand, max-age=3600"), kept: "image", want: traits{fresh: hour}},
		{rule: "9111 5.2.2.7: private is not for a crew", says: fields("Cache-Control: private, max-age=3600"), stop: fetch.StopPrivate, kept: "nothing"},
		{rule: "9111 5.2.2.7: private with a permission", may: true, says: fields("Cache-Control: private, max-age=3600"), kept: "image", want: traits{fresh: hour}},
		{rule: "9111 5.2.2.7: private for named fields speaks of those alone", says: fields(`Cache-Control: private="ETag, Set-Cookie", max-age=3600`, `ETag: "v1"`, "Last-Modified: Sun, 06 Nov 1994 08:49:37 GMT"),
			kept: "image", want: traits{fresh: hour, modified: "Sun, 06 Nov 1994 08:49:37 GMT"}},
		{rule: "9111 5.2.2.9: public is kept", says: fields("Cache-Control: public, max-age=3600"), kept: "image", want: traits{fresh: hour}},
		{rule: "9111 5.2.3: an unknown directive is ignored", says: fields("Cache-Control: moonlight, max-age=3600"), kept: "image", want: traits{fresh: hour}},
		{rule: "9111 5.2.2.6: no-transform is remembered", says: fields("Cache-Control: no-transform"), kept: "image", want: traits{fixed: true}},
		{rule: "6585 4: 429 is not kept", says: *answer(429, "Cache-Control: max-age=3600"), kept: "nothing"},
		{rule: "6585 6: 511 ends the run", says: *answer(511), stop: fetch.StopPortal, kept: "nothing"},
		{rule: "9110 15.6: 5xx is not kept", says: *answer(500, "Cache-Control: max-age=3600"), kept: "nothing"},
		{rule: "9110 15.5.2: 401 ends the run", says: *answer(401), stop: fetch.StopRejected, kept: "nothing"},
		{rule: "9110 15.5.4: 403 ends the run", says: *answer(403), stop: fetch.StopRejected, kept: "nothing"},
		{rule: "9110 15.3.7: a part is not kept", says: said{status: 206, body: other}, kept: "nothing"},
		{rule: "9110 8.4: an encoding that was not asked for", says: fields("Content-Encoding: gzip"), kept: "nothing"},
	}
}

func lifetimes() []rule {
	return []rule{
		{rule: "9111 5.2.2.1: max-age", says: fields("Cache-Control: max-age=3600"), kept: "image", want: traits{fresh: hour}},
		{rule: "9111 5.3: max-age before Expires", says: fields("Cache-Control: max-age=3600", "Expires: "+ago(-48*hour)), kept: "image", want: traits{fresh: hour}},
		{rule: "9111 5.3: Expires less Date", says: fields("Date: "+ago(0), "Expires: "+ago(-2*hour)), kept: "image", want: traits{fresh: 2 * hour}},
		{rule: "9111 5.3: Expires 0 is expired", says: fields("Expires: 0"), kept: "image"},
		{rule: "9111 4.2.2: a tenth of the time since Last-Modified", says: fields("Last-Modified: " + ago(100*hour)), kept: "image", want: traits{fresh: 10 * hour, modified: ago(100 * hour)}},
		{rule: "9111 4.2.3: Age counts", says: fields("Age: 1800", "Cache-Control: max-age=3600"), kept: "image", want: traits{fresh: hour / 2}},
		{rule: "9111 4.2.3: older than its life is stale", says: fields("Age: 7200", "Cache-Control: max-age=3600"), kept: "image"},
		{rule: "9111 5.2.2.4: no-cache is asked for again", says: fields("Cache-Control: no-cache, max-age=3600"), kept: "image"},
		{rule: "9111 5.2.2.10: s-maxage is for shared caches", says: fields("Cache-Control: s-maxage=10, max-age=3600"), kept: "image", want: traits{fresh: hour}},
		{rule: "9111 4.2.1: two ages, the shorter", says: fields("Cache-Control: max-age=7200, max-age=3600"), kept: "image", want: traits{fresh: hour}},
		{rule: "9111 4.2.1: no number is stale", says: fields("Cache-Control: max-age=1.5"), kept: "image"},
		{rule: "9111 4.1: Vary * is never used without asking", says: fields("Vary: *", "Cache-Control: max-age=3600"), kept: "image"},
		{rule: "9111 4.1: Vary by what we always send alike", says: fields("Vary: Accept, User-Agent", "Cache-Control: max-age=3600"), kept: "image", want: traits{fresh: hour}},
		{rule: "9110 5.6.7: a date in the form of RFC 850", says: fields("Expires: " + time.Now().Add(3*hour).UTC().Format("Monday, 02-Jan-06 15:04:05 GMT")), kept: "image", want: traits{fresh: 3 * hour}},
		{rule: "9110 5.6.7: a date in the form of asctime", says: fields("Expires: " + time.Now().Add(3*hour).UTC().Format(time.ANSIC)), kept: "image", want: traits{fresh: 3 * hour}},
		{rule: "terms, keep_at_most: no longer than they allow", most: hour, says: fields("Cache-Control: max-age=86400, stale-if-error=86400"), kept: "image", want: traits{fresh: hour, usable: hour}},
		{rule: "8246 2: immutable over TLS", tls: true, says: fields("Cache-Control: max-age=3600, immutable"), kept: "image", want: traits{fresh: hour, settled: true}},
		{rule: "8246 2.1: immutable without TLS is ignored", says: fields("Cache-Control: max-age=3600, immutable"), kept: "image", want: traits{fresh: hour}},
		{rule: "5861 4: stale-if-error counts from the end of freshness", says: fields("Cache-Control: max-age=3600, stale-if-error=7200"), kept: "image", want: traits{fresh: hour, usable: 3 * hour}},
		{rule: "9111 4.2.4: must-revalidate bars standing in", says: fields("Cache-Control: max-age=3600, stale-if-error=7200, must-revalidate"), kept: "image", want: traits{fresh: hour}},
		{rule: "9111 4.2.4: no-cache bars standing in", says: fields("Cache-Control: no-cache, stale-if-error=7200"), kept: "image"},
		{rule: "9110 8.8.2: a Last-Modified that is no date is not kept", says: fields("Last-Modified: yesterday", "Cache-Control: max-age=3600"), kept: "image", want: traits{fresh: hour}},
	}
}

// confirming is validation: 9111 4.3 and 9110 13.
func confirming() []rule {
	const date, later = "Sun, 06 Nov 1994 08:49:37 GMT", "Mon, 07 Nov 1994 08:49:37 GMT"
	other := picture(256, 7, false)
	strong, weak := traits{etag: `"v1"`}, traits{etag: `W/"v1"`}
	dated := traits{modified: date, fresh: time.Since(time.Date(1994, 11, 6, 8, 49, 37, 0, time.UTC)) / 10}
	both := traits{etag: `"v1"`, modified: date, fresh: hour}
	bothSaid := fields("Cache-Control: max-age=3600", `ETag: "v1"`, "Last-Modified: "+date)
	return []rule{
		{rule: "9111 4.3.1: a tag is asked with", says: fields(`ETag: "v1"`), kept: "image", want: strong,
			then: answer(304, `ETag: "v1"`, "Cache-Control: max-age=3600"), sent: `"v1"`, comes: "unchanged", after: "image", left: &traits{fresh: hour, etag: `"v1"`}},
		{rule: "9111 4.3.1: a time is asked with", says: fields("Last-Modified: " + date), kept: "image", want: dated,
			then: answer(304, "Last-Modified: "+date, "Cache-Control: max-age=3600"), sent: date, comes: "unchanged", after: "image", left: &traits{fresh: hour, modified: date}},
		{rule: "9111 4.3.1: both are asked with", says: bothSaid, kept: "image", want: both,
			then: answer(304, `ETag: "v1"`), sent: `"v1" ` + date, comes: "unchanged", after: "image", left: &traits{fresh: hour, etag: `"v1"`, modified: date}},
		{rule: "9110 8.8.3.2: a weak tag confirms a weak one", says: fields(`ETag: W/"v1"`), kept: "image", want: weak,
			then: answer(304, `ETag: W/"v1"`), sent: `W/"v1"`, comes: "unchanged", after: "image", left: &weak},
		{rule: "9111 4.3.4: a weak tag confirms a strong one", says: fields(`ETag: "v1"`), kept: "image", want: strong,
			then: answer(304, `ETag: W/"v1"`), sent: `"v1"`, comes: "unchanged", after: "image", left: &traits{etag: `W/"v1"`}},
		{rule: "9111 4.3.4: another strong tag confirms nothing", says: fields(`ETag: "v1"`), kept: "image", want: strong,
			then: answer(304, `ETag: "v2"`), sent: "", comes: "failed", after: "image", left: &strong},
		{rule: "9111 4.3.4: a strong tag does not confirm a weak one", says: fields(`ETag: W/"v1"`), kept: "image", want: weak,
			then: answer(304, `ETag: "v1"`), sent: "", comes: "failed", after: "image", left: &weak},
		{rule: "9111 4.3.4: another time confirms nothing", says: fields("Last-Modified: " + date), kept: "image", want: dated,
			then: answer(304, "Last-Modified: "+later), sent: "", comes: "failed", after: "image", left: &dated},
		{rule: "9111 4.3.4: a 304 without any validator answers what was asked", says: bothSaid, kept: "image", want: both,
			then: answer(304, "Cache-Control: max-age=7200"), sent: `"v1" ` + date, comes: "unchanged", after: "image", left: &traits{fresh: 2 * hour, etag: `"v1"`, modified: date}},
		{rule: "9111 3.2: a 304 updates marks and lives", says: fields(`ETag: "v1"`, "Cache-Control: max-age=60"), kept: "image", want: traits{fresh: time.Minute, etag: `"v1"`},
			then: answer(304, `ETag: "v1"`, "Cache-Control: max-age=3600, no-transform, stale-if-error=3600"), sent: `"v1"`, comes: "unchanged", after: "image",
			left: &traits{fresh: hour, usable: 2 * hour, etag: `"v1"`, fixed: true}},
		{rule: "9111 3.2: what a 304 does not say stays", says: fields(`ETag: "v1"`, "Cache-Control: no-transform"), kept: "image", want: traits{etag: `"v1"`, fixed: true},
			then: answer(304, `ETag: "v1"`), sent: `"v1"`, comes: "unchanged", after: "image", left: &traits{etag: `"v1"`, fixed: true}},
		{rule: "9111 3.2: a 304 takes a mark back", says: fields(`ETag: "v1"`, "Cache-Control: no-transform"), kept: "image", want: traits{etag: `"v1"`, fixed: true},
			then: answer(304, `ETag: "v1"`, "Cache-Control: max-age=3600"), sent: `"v1"`, comes: "unchanged", after: "image", left: &traits{fresh: hour, etag: `"v1"`}},
		{rule: "9111 4.3.3: a whole answer replaces", says: bothSaid, kept: "image", want: both,
			then: &said{fields: []string{`ETag: "v2"`}, body: other}, sent: `"v1" ` + date, comes: "changed", after: "other", left: &traits{etag: `"v2"`}},
		{rule: "9111 4.3.3: a whole answer with the same bytes", says: bothSaid, kept: "image", want: both,
			then: &said{fields: []string{`ETag: "v2"`}}, sent: `"v1" ` + date, comes: "same", after: "image", left: &traits{etag: `"v2"`}},
		{rule: "9111 5.2.2.5: a 304 with no-store", says: bothSaid, kept: "image", want: both,
			then: answer(304, `ETag: "v1"`, "Cache-Control: no-store"), sent: `"v1" ` + date, ends: fetch.StopNoStore, after: "image", left: &both},
		{rule: "nothing to ask with", says: fields("Cache-Control: max-age=3600"), kept: "image", want: traits{fresh: hour},
			then: &said{body: other}, sent: "", comes: "changed", after: "other"},
	}
}

// absences are holes, and images that a source says it no longer has.
func absences() []rule {
	image := fields("Cache-Control: max-age=60", `ETag: "v1"`)
	had := traits{fresh: time.Minute, etag: `"v1"`}
	return []rule{
		{rule: "9110 15.5.5: 404 is a hole", says: *answer(404), kept: "hole"},
		{rule: "9110 15.1: a 404 has a life of its own", says: *answer(404, "Cache-Control: max-age=3600"), kept: "hole", want: traits{fresh: hour}},
		{rule: "9110 15.3.5: 204 is a hole", says: *answer(204, "Cache-Control: max-age=3600"), kept: "hole", want: traits{fresh: hour}},
		{rule: "9110 15.5.11: 410 is a hole", says: *answer(410, "Cache-Control: max-age=3600"), kept: "hole", want: traits{fresh: hour}},
		{rule: "9111 4.2.2: a guess for 410", says: *answer(410, "Last-Modified: "+ago(100*hour)), kept: "hole", want: traits{fresh: 10 * hour}},
		{rule: "9111 5.2.2.5: of a 404 with no-store only our own note is kept", says: *answer(404, "Cache-Control: no-store, max-age=3600"), kept: "hole"},
		{rule: "9111 5.2.2.7: of a private 404 too", says: *answer(404, "Cache-Control: private, max-age=3600"), kept: "hole"},
		{rule: "a hole that becomes an image", says: *answer(404), kept: "hole", then: &said{}, sent: "", comes: "new", after: "image"},
		{rule: "a hole that stays one", says: *answer(404), kept: "hole", then: answer(410, "Cache-Control: max-age=3600"), sent: "", comes: "absent", after: "hole", left: &traits{fresh: hour}},
		{rule: "9110 15.5.5: 404 may pass: an image that is held stays", says: image, kept: "image", want: had,
			then: answer(404), sent: `"v1"`, comes: "withdrawn", after: "image"},
		{rule: "9110 15.3.5: 204 may pass too", says: image, kept: "image", want: had,
			then: answer(204), sent: `"v1"`, comes: "withdrawn", after: "image"},
		{rule: "9110 15.5.11: 410 is for good: a hole in its place", says: image, kept: "image", want: had,
			then: answer(410, "Cache-Control: max-age=3600"), sent: `"v1"`, comes: "gone", after: "hole", left: &traits{fresh: hour}},
	}
}

// standing is what happens when confirming fails.
func standing() []rule {
	allowed := fields("Cache-Control: max-age=60, stale-if-error=3600", `ETag: "v1"`)
	had := traits{fresh: time.Minute, usable: hour + time.Minute, etag: `"v1"`}
	var all []rule
	for _, c := range []struct {
		rule   string
		status int
		comes  string
	}{
		{"5861 4: 500", 500, "stood in"}, {"5861 4: 502", 502, "stood in"}, {"5861 4: 503", 503, "stood in"}, {"5861 4: 504", 504, "stood in"},
		{"5861 4: 429 is none of those", 429, "failed"}, {"5861 4: 418 is none of those", 418, "failed"},
	} {
		all = append(all, rule{rule: c.rule, says: allowed, kept: "image", want: had,
			then: answer(c.status), sent: `"v1"`, comes: c.comes, after: "image", left: &had})
	}
	strict := fields("Cache-Control: max-age=60, stale-if-error=3600, must-revalidate", `ETag: "v1"`)
	return append(all, rule{rule: "9111 5.2.2.2: must-revalidate does not stand in", says: strict, kept: "image", want: traits{fresh: time.Minute, etag: `"v1"`},
		then: answer(500), sent: `"v1"`, comes: "failed", after: "image"})
}
