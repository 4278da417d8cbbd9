// Package plan works out what a base map of a job wants: its tiles, what of them
// the office store holds, their weight and time, and what could be given up.
package plan
