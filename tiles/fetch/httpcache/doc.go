// Package httpcache has the rules of a private HTTP cache: whether a response
// may be stored, how long it is fresh, how long it may stand in for a failing
// server, and whether a 304 confirms what is stored. It follows RFC 9110 and
// 9111 (HTTP and its caches), 5861 (stale-if-error) and 8246 (immutable).
//
// The functions are pure: they read headers and times, and store nothing.
package httpcache
