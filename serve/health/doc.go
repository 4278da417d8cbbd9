// Package health reads what the machine says of itself: batteries, free space
// on the disk, and what this process holds. What a system does not tell is left
// out, never guessed.
package health
