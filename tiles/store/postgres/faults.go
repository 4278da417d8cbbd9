package postgres

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/store"
)

// fault turns an error of the database into one that says what to do. The
// context is the caller's: when it has ended, that is the reason.
func (d *database) fault(ctx context.Context, doing string, err error) error {
	var server *pgconn.PgError
	var scan pgx.ScanArgError
	switch {
	case err == nil || told(err):
		return err
	case ctx.Err() != nil:
		return fmt.Errorf("%s %s: %w", doing, d.where, ctx.Err())
	case errors.As(err, &server):
		return d.serverFault(doing, server.Code, err)
	case errors.As(err, &scan) || errors.Is(err, pgx.ErrNoRows):
		return fmt.Errorf("%s %s: %w", doing, d.where, err)
	}
	// What is left is the way to the server.
	return store.NoServer(d.where, err)
}

// told reports that an error says already what to do.
func told(err error) bool {
	var f *fault.Fault
	return errors.As(err, &f)
}

// serverFault sorts by the codes of PostgreSQL, appendix A.
func (d *database) serverFault(doing, code string, err error) error {
	switch {
	case code == "53100":
		return store.FullDisk(d.where, err)
	case code == "53300", // too many connections
		code == "3D000",                // no such database
		strings.HasPrefix(code, "08"),  // connection
		strings.HasPrefix(code, "28"),  // not let in
		strings.HasPrefix(code, "57P"): // shut down, starting up, crashed, session ended
		return store.NoServer(d.where, err)
	case strings.HasPrefix(code, "XX0"): // XX001 data corrupted, XX002 index corrupted
		return store.Damage(d.where, err)
	case code == "42501":
		return fmt.Errorf("%s %s: %w; let the owner of the schema groundsheet grant you its use (or, before it is made, CREATE on the database)", doing, d.where, err)
	case code == "57014" || code == "55P03": // cancelled by its time limit, lock not available
		return fmt.Errorf("%s %s: the server took too long: %w; another computer may be busy with the store: run again", doing, d.where, err)
	}
	return fmt.Errorf("%s %s: %w", doing, d.where, err)
}
