// Package fetch gets wanted tiles from a source into the office store, within
// the source's terms: never faster than stated, never over more connections
// than stated, within the hours and the daily budget, waiting when told to
// wait, and stopping when told to stop.
//
// Several runs, also of several computers, take turns at a source: they keep
// to one rate, one number of connections and one budget, and no tile is
// fetched twice.
//
// Nothing is believed unseen: an answer counts as a tile only when its bytes
// are a whole image of the right size. Nothing counts as new before it is on
// the disk, so a killed run loses nothing that it reported, and resuming is
// simply running again with what is still wanted.
//
// What may be kept, and for how long, follows RFC 9110 and 9111 (HTTP and its
// caches), 6585 (429, 511), 5861 (stale-if-error) and 8246 (immutable), then
// the operator's terms.
//
// Everything that can go wrong outside is an *[Outside]; terms that do not
// allow the run are a *source.Refused.
//
// The libraries x/sync and x/time/rate are at home here.
package fetch
