package sqlite

import (
	"cmp"
	"context"
	"database/sql/driver"
	"errors"
	"fmt"
	"io"
	"runtime"
	"time"

	"github.com/mattn/go-sqlite3"
)

// ReaderOptions say what a [Reader] reads, and how.
type ReaderOptions struct {
	Untrusted
	Query       string        // of one column, with three places for whole numbers; the first row counts
	Connections int           // 0 = two for each core: one reads the disk while another works
	Limit       time.Duration // for one read, and for waiting for a connection; 0 = 3 seconds
}

// Reader reads single blobs of an untrusted file by one prepared query. It has
// connections of its own, all opened at once, and leaves out what database/sql
// does for each query. It is safe for concurrent use.
type Reader struct {
	free  chan *reading
	limit time.Duration
}

// reading is one connection with its statement; one goroutine at a time has it.
type reading struct {
	conn   driver.Conn
	stmt   driver.Stmt
	query  driver.StmtQueryContext
	args   [3]driver.NamedValue
	row    [1]driver.Value
	ctx    context.Context // lives as long as the connection, unless the alarm rings
	cancel context.CancelFunc
	alarm  *time.Timer
}

// ErrTooSlow says that a read was broken off, or got no connection, because
// reading took longer than the limit: a view in a hostile file may never end.
var ErrTooSlow = errors.New("reading it takes too long")

// NewReader opens the connections.
func NewReader(path string, o ReaderOptions) (*Reader, error) {
	n := cmp.Or(o.Connections, 2*runtime.GOMAXPROCS(0))
	r := &Reader{free: make(chan *reading, n), limit: cmp.Or(o.Limit, 3*time.Second)}
	options := o.options()
	options.Settings += "&_mutex=no"                              // one goroutine at a time uses a connection
	options.Pragmas = append(options.Pragmas, "cache_size=-1000") // kB: pages of the index; long blobs go past it
	to := connect(path, options)
	for range n {
		c, err := openReading(to, o.Query)
		if err != nil {
			return nil, errors.Join(err, r.close(len(r.free)))
		}
		r.free <- c
	}
	return r, nil
}

func openReading(to connector, query string) (*reading, error) {
	conn, err := to.Connect(context.Background())
	if err != nil {
		return nil, err
	}
	stmt, err := conn.Prepare(query)
	if err != nil {
		return nil, errors.Join(err, conn.Close())
	}
	c := &reading{conn: conn, stmt: stmt, query: stmt.(*sqlite3.SQLiteStmt)}
	for i := range c.args {
		c.args[i].Ordinal = i + 1
	}
	c.renew()
	return c, nil
}

// renew makes a connection fit for its next read, after the alarm rang too.
func (c *reading) renew() {
	c.ctx, c.cancel = context.WithCancel(context.Background())
	c.alarm = time.AfterFunc(time.Hour, c.cancel)
	c.alarm.Stop()
}

// Blob gives the first row of the query for three numbers; nil when there is
// none, or NULL. An error of ctx, or [ErrTooSlow], or one to [Sort]. ctx is not
// looked at while the statement runs: the limit ends that.
func (r *Reader) Blob(ctx context.Context, a, b, c int64) ([]byte, error) {
	conn, err := r.take(ctx)
	if err != nil {
		return nil, err
	}
	defer func() { r.free <- conn }()
	conn.alarm.Reset(r.limit)
	conn.args[0].Value, conn.args[1].Value, conn.args[2].Value = a, b, c
	data, err := conn.read()
	if !conn.alarm.Stop() {
		conn.renew()
		if err != nil {
			err = ErrTooSlow
		}
	}
	return data, err
}

func (r *Reader) take(ctx context.Context) (*reading, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	select {
	case c := <-r.free:
		return c, nil
	default:
	}
	wait := time.NewTimer(r.limit)
	defer wait.Stop()
	select {
	case c := <-r.free:
		return c, nil
	case <-ctx.Done():
		return nil, ctx.Err()
	case <-wait.C:
		return nil, ErrTooSlow
	}
}

func (c *reading) read() ([]byte, error) {
	rows, err := c.query.QueryContext(c.ctx, c.args[:])
	if err != nil {
		return nil, err
	}
	err = rows.Next(c.row[:])
	value := c.row[0]
	c.row[0] = nil
	if closing := rows.Close(); err == nil {
		err = closing
	}
	if err != nil {
		if errors.Is(err, io.EOF) {
			err = nil
		}
		return nil, err
	}
	switch v := value.(type) {
	case []byte:
		return v, nil
	case string:
		return []byte(v), nil
	case nil:
		return nil, nil
	}
	return nil, fmt.Errorf("it holds a %T, not a blob", value)
}

// Close waits for running reads, as long as their limit, and closes the file.
func (r *Reader) Close() error { return r.close(cap(r.free)) }

func (r *Reader) close(n int) error {
	var errs []error
	for range n {
		c := <-r.free
		c.alarm.Stop()
		c.cancel()
		errs = append(errs, c.stmt.Close(), c.conn.Close())
	}
	return errors.Join(errs...)
}
