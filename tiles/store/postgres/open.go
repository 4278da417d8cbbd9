package postgres

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"strconv"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
)

// Options is how to talk to the server. The zero value is ready for use.
type Options struct {
	Connections int              // at most, besides one for each lease; 0 = 8, or pool_max_conns of the address
	Connecting  time.Duration    // how long connecting may take; 0 = 10 s, or connect_timeout of the address
	Statement   time.Duration    // how long the server works on one statement; 0 = 1 min
	Now         func() time.Time // this computer's clock; nil = time.Now
}

const (
	connections = 8
	connecting  = 10 * time.Second
	statement   = time.Minute
	// housework is how long a statement may take that reads or cleans all of a
	// shelf.
	housework = 30 * time.Minute
)

// Is reports whether an address names a PostgreSQL database.
func Is(address string) bool {
	return strings.HasPrefix(address, "postgres://") || strings.HasPrefix(address, "postgresql://")
}

// Open connects to the database that the address names, such as
// postgres://USER@HOST:5432/DATABASE?sslmode=verify-full. What is left out
// comes from the environment (PGHOST, PGPASSWORD …) and ~/.pgpass. A schema of
// an earlier version is brought up to date; a missing one is made by the first
// write. Errors: [store.Unreachable], [store.Newer] or a plain one. The
// password is in none of them.
func Open(ctx context.Context, address string, o Options) (*Store, error) {
	return open(ctx, address, o, steps())
}

func open(ctx context.Context, address string, o Options, steps []string) (*Store, error) {
	config, err := configure(address, o)
	if err != nil {
		return nil, err
	}
	s := newStore(config, o, steps)
	if s.pool, err = pgxpool.NewWithConfig(ctx, config); err != nil {
		return nil, s.fault(ctx, "cannot open", err)
	}
	if err := s.meet(ctx); err != nil {
		s.pool.Close()
		return nil, err
	}
	return s, nil
}

func configure(address string, o Options) (*pgxpool.Config, error) {
	if !Is(address) {
		return nil, errors.New("the address of the office store does not begin with postgres://")
	}
	config, err := pgxpool.ParseConfig(address)
	if err != nil {
		return nil, addressFault(address, err)
	}
	switch {
	case o.Connections > 0:
		config.MaxConns = int32(o.Connections)
	case !strings.Contains(address, "pool_max_conns"):
		config.MaxConns = connections
	}
	switch {
	case o.Connecting > 0:
		config.ConnConfig.ConnectTimeout = o.Connecting
	case !strings.Contains(address, "connect_timeout"):
		config.ConnConfig.ConnectTimeout = connecting
	}
	config.AfterConnect = func(ctx context.Context, conn *pgx.Conn) error {
		return settle(ctx, conn, o.statement())
	}
	return config, nil
}

func (o Options) statement() time.Duration {
	if o.Statement > 0 {
		return o.Statement
	}
	return statement
}

// addressFault repeats what the library says only where no password can be in
// it: of a mangled address it cannot tell which part that is.
func addressFault(address string, err error) error {
	const form = "the address of the office store cannot be read; write it as postgres://USER@HOST:5432/DATABASE and leave the password to PGPASSWORD or ~/.pgpass"
	_, rest, _ := strings.Cut(address, "://")
	user, _, _ := cutLast(rest, "@")
	if strings.Contains(user, ":") || strings.Contains(address, "password") {
		return errors.New(form)
	}
	return fmt.Errorf("%s: %w", form, err)
}

func cutLast(s, sep string) (before, after string, found bool) {
	if i := strings.LastIndex(s, sep); i >= 0 {
		return s[:i], s[i+len(sep):], true
	}
	return "", s, false
}

// settle makes a new connection fit for the store. Keep promises that its
// tiles are on the disk, so a database that is told to commit lazily does not
// do so here. The keep-alives let the server notice within a minute that a
// computer is gone, and free its lease.
func settle(ctx context.Context, conn *pgx.Conn, statement time.Duration) error {
	_, err := conn.Exec(ctx, `SELECT set_config('application_name', 'groundsheet', false),
		set_config('statement_timeout', $1, false), set_config('lock_timeout', $1, false),
		set_config('idle_in_transaction_session_timeout', '60s', false),
		set_config('synchronous_commit', CASE current_setting('synchronous_commit') WHEN 'off' THEN 'on' ELSE current_setting('synchronous_commit') END, false),
		set_config('tcp_keepalives_idle', '20', false), set_config('tcp_keepalives_interval', '10', false),
		set_config('tcp_keepalives_count', '3', false)`, milliseconds(statement))
	return err
}

func milliseconds(d time.Duration) string { return strconv.FormatInt(d.Milliseconds(), 10) }

// where names a database without its password.
func where(c *pgx.ConnConfig) string {
	u := url.URL{Scheme: "postgres", User: url.User(c.User), Path: "/" + c.Database}
	if strings.HasPrefix(c.Host, "/") || strings.HasPrefix(c.Host, "@") {
		u.RawQuery = "host=" + c.Host + "&port=" + strconv.Itoa(int(c.Port))
		return u.String()
	}
	host := c.Host
	if strings.Contains(host, ":") {
		host = "[" + host + "]"
	}
	u.Host = host + ":" + strconv.Itoa(int(c.Port))
	return u.String()
}
