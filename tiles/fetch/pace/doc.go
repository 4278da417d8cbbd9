// Package pace keeps requests to a server within a stated rate: evenly spaced,
// never more than stated within a second, slower after a 429, and paused when
// the server asks for it. Its state can be handed to the next run, in another
// process too, so that all runs together keep one rate.
//
// The library x/time/rate is at home here.
package pace
