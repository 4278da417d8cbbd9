// Package pack is the pack file: one MBTiles 1.3 file with the base map, and in
// tables of our own what is recorded under the ground, where every tile came
// from and what the job wanted. It is the only place that turns rows from
// north-first (XYZ) to south-first (TMS).
package pack
