// Package fetch downloads wanted tiles from a source into the office store,
// within the source's terms: never faster and over no more connections than
// stated, within the hours and the daily budget, waiting when the source asks it,
// and stopping when the source refuses.
//
// Several runs, also on several computers, take turns: a run asks a source only
// while it holds the lease of its shelf. All runs together keep one rate, one
// number of connections and one budget, and no tile is fetched twice.
//
// A response counts as a tile only if its bytes are a complete image of the
// right size, and a tile counts as new only when it is on the disk. So a killed
// run loses nothing it reported, and to resume is to run again with what is
// still wanted.
//
// # What stops what
//
// Everything that ends requests is a *[Stop] of one scope:
//
//	scope | ends                   | for how long                | who waits               | then
//	try   | one request for a tile | a backoff, or Retry-After   | its worker; with        | another try, at most
//	      |                        |                             | Retry-After all workers | Options.Attempts
//	tile  | all requests for it    | this run                    | nobody                  | it failed, or stands in
//	queue | a request's wait       | until the next lease        | nobody                  | its job is queued again
//	lease | all requests           | until Stop.Until, else a    | the run, without the    | the next lease; the run
//	      |                        | growing pause               | lease                   | ends if not Patient
//	run   | all requests           | for good                    | nobody                  | held tiles stand in if
//	      |                        |                             |                         | they may, else an error
//
// A lease also ends when another run waits for it. Hours, budget, a Retry-After
// of more than 15 minutes and, with Options.KeepTrying, a failing source have
// the scope of a lease; the other reasons have that of the run.
//
// What may be kept, and for how long, is the matter of package httpcache, then
// of the operator's terms. Package pace spaces the requests.
//
// The library x/sync is at home here.
package fetch
