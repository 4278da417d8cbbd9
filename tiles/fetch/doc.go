// Package fetch gets wanted tiles from a source into the office store, within
// the source's terms: never faster than stated, never over more connections
// than stated, waiting when told to wait, and stopping when told to stop.
//
// Nothing is believed unseen: an answer counts as a tile only when its bytes
// are a whole image of the right size. Nothing counts as new before it is on
// the disk, so a killed run loses nothing that it reported, and resuming is
// simply running again with what is still wanted.
//
// Everything that can go wrong outside is an *[Outside]; terms that do not
// allow the run are a *source.Refused.
//
// The libraries x/sync and x/time/rate are at home here.
package fetch
