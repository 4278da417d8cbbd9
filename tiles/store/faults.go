package store

import (
	"fmt"
	"strings"
)

// DiskFull says that the disk under the store takes no more. What was kept
// before is still there.
type DiskFull struct {
	Path string // the store file or folder, or the database without its password
	Err  error
}

// Error gives the place and what to do.
func (d *DiskFull) Error() string {
	return fmt.Sprintf("no room left on the disk (or it refuses to write) for %s: %v; free some room or use a store on another disk, then run again: what was kept before is still there", d.Path, d.Err)
}

// Unwrap gives what the system reported.
func (d *DiskFull) Unwrap() error { return d.Err }

// Damaged says that a store file is no sound store file, or a database no
// sound database.
type Damaged struct {
	Path string // the file, or the database without its password
	Err  error
}

// Error gives the file and what to do.
func (d *Damaged) Error() string {
	if strings.Contains(d.Path, "://") {
		return fmt.Sprintf("the office store %s is damaged: %v; have whoever looks after the database repair it or restore a backup, then run again", d.Path, d.Err)
	}
	return fmt.Sprintf("store file %s is damaged: %v; run groundsheet store verify --mend, which saves what can be read, then run again: what is lost is fetched anew", d.Path, d.Err)
}

// Unwrap gives what was found.
func (d *Damaged) Unwrap() error { return d.Err }

// Newer says that a store file or database was written by a newer version of
// the program.
type Newer struct {
	Path         string // the file, or the database without its password
	Found, Known int    // schema versions
}

// Error gives the file and what to do.
func (n *Newer) Error() string {
	return fmt.Sprintf("the office store %s was written by a newer version of this program (format %d, this version knows %d); use that version or another store", n.Path, n.Found, n.Known)
}

// Foreign says that a file in the store's folder is another program's.
type Foreign struct {
	Path   string
	Detail string
}

// Error gives the file and what to do.
func (f *Foreign) Error() string {
	return fmt.Sprintf("%s is a database of another program (%s); move it out of the store folder", f.Path, f.Detail)
}

// NotHeld says that a tile that was to be renewed is not in the store.
type NotHeld struct {
	Path string
	Tile string // "z/x/y"
}

// Error gives tile and file.
func (n *NotHeld) Error() string {
	return fmt.Sprintf("tile %s is no longer held in %s (was it pruned meanwhile?); run again", n.Tile, n.Path)
}

// Unreachable says that the server that keeps the store does not answer or
// does not let us in.
type Unreachable struct {
	Where string // without the password
	Err   error
}

// Error gives the place and what to do.
func (u *Unreachable) Error() string {
	return fmt.Sprintf("the office store %s cannot be reached: %v; look at the network, the address and the password (PGPASSWORD or ~/.pgpass), then run again", u.Where, u.Err)
}

// Unwrap gives the cause.
func (u *Unreachable) Unwrap() error { return u.Err }
