// Package derive derives from the records under a dig area what none of them
// states alone: lines with their readings, depths, tolerance zones, entries into
// the area, crossings, parallel runs, verdicts on clearance rules, statistics and
// findings. Each result carries the limits of the data behind it.
package derive
