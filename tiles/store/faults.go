package store

import (
	"errors"
	"fmt"
	"strings"

	"groundsheet/tiles/fault"
)

// Kinds of the [fault.Fault] of a store. Place is the store file or folder, or
// the database without its password.
var (
	DiskFull    = fault.Outside("the disk is full")     // what was kept before is still there
	Damaged     = fault.Outside("damaged")              // a store file or database is broken
	Unreachable = fault.Outside("unreachable")          // the database server does not answer or refuses us
	Newer       = fault.Input("a newer format")         // a newer version of the program wrote it
	Foreign     = fault.Input("another program's file") // a file in the store's folder is not a store file
	NotHeld     = fault.Input("the tile is not held")   // a tile to renew is not in the store
)

// FullDisk is a [DiskFull] fault.
func FullDisk(place string, err error) error {
	return &fault.Fault{
		Kind: DiskFull, Place: place, Detail: "no room is left on the disk, or it refuses to write", Err: err,
		Remedy: "free some room or use a store on another disk, then run again: what was kept before is still there",
	}
}

// Damage is a [Damaged] fault; err is what was found.
func Damage(place string, err error) error {
	f := &fault.Fault{
		Kind: Damaged, Place: place, Detail: "the store file is damaged", Err: err,
		Remedy: "run groundsheet store verify --mend, which saves what can be read, then run again: what is lost is fetched again",
	}
	if strings.Contains(place, "://") {
		f.Detail = "the office store is damaged"
		f.Remedy = "have the administrator of the database repair it or restore a backup, then run again"
	}
	return f
}

// DamageOf is what was found of a [Damaged] fault in err; "" when err is none.
func DamageOf(err error) string {
	var f *fault.Fault
	if !errors.Is(err, Damaged) || !errors.As(err, &f) {
		return ""
	}
	return f.Err.Error()
}

// NewerFormat is a [Newer] fault with the schema version found and the latest supported.
func NewerFormat(place string, found, supported int) error {
	return &fault.Fault{
		Kind: Newer, Place: place, Remedy: "use that version or another store",
		Detail: fmt.Sprintf("the office store was written by a newer version of this program (format %d, this version supports %d)", found, supported),
	}
}

// Absent is a [NotHeld] fault.
func Absent(place string, id fmt.Stringer) error {
	return &fault.Fault{
		Kind: NotHeld, Place: place, Detail: fmt.Sprintf("tile %s is no longer held (was it pruned meanwhile?)", id),
		Remedy: "run again",
	}
}

// NoServer is an [Unreachable] fault.
func NoServer(place string, err error) error {
	return &fault.Fault{
		Kind: Unreachable, Place: place, Detail: "the office store cannot be reached", Err: err,
		Remedy: "check the network, the address and the password (PGPASSWORD or ~/.pgpass), then run again",
	}
}
