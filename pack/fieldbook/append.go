package fieldbook

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"slices"
	"strconv"
	"time"
)

// Sender is who sent entries, as the server knows it.
type Sender struct {
	Session string // names the phone's session; "" = none
	Role    string
}

// Receipt answers one entry.
type Receipt struct {
	ID      string `json:"id"`                // "" where the text names none
	Number  int64  `json:"number,omitempty"`  // in the book; 0 = refused
	Hash    string `json:"hash,omitempty"`    // of the chain at that entry
	Refused string `json:"refused,omitempty"` // why it is not in the book, for the person who made it
}

// Entry is one entry of a book.
type Entry struct {
	Number   int64
	ID       string
	Mark     string
	Action   Action
	Text     []byte // as the phone sent it
	Received time.Time
	Session  string
	Role     string
	Before   string
	Hash     string
}

// Chain is the text whose SHA-256 is the hash of the entry.
func (e Entry) Chain() []byte {
	var b bytes.Buffer
	for _, field := range []string{e.Before, strconv.FormatInt(e.Number, 10), e.ID, e.Mark, string(e.Action),
		stamp(e.Received), e.Session, e.Role, string(e.Text)} {
		netstring(&b, field)
	}
	return b.Bytes()
}

func netstring(b *bytes.Buffer, field string) {
	b.WriteString(strconv.Itoa(len(field)) + ":" + field + ",")
}

func hashOf(text []byte) string {
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])
}

// Append adds entries in their order, and answers each: it is on the disk when Append
// returns, or it is refused and the receipt says why. An entry that is in the book already
// gets its receipt again. With an error nothing was added.
func (b *Book) Append(ctx context.Context, from Sender, texts [][]byte) ([]Receipt, error) {
	receipts, parsed := make([]Receipt, len(texts)), make([]Text, len(texts))
	good := 0
	b.mu.Lock()
	defer b.mu.Unlock()
	for i, text := range texts {
		var err error
		if parsed[i], err = Parse(text); err == nil && parsed[i].Feature != nil {
			err = checkPlace(parsed[i].Feature.Geometry, b.o.Area)
		}
		receipts[i].ID = namedID(text)
		if err != nil {
			receipts[i].Refused = err.Error()
			continue
		}
		good++
	}
	if good == 0 {
		return receipts, nil
	}
	if err := b.ensure(ctx); err != nil {
		return nil, err
	}
	tx, err := b.db.BeginTx(ctx, nil)
	if err != nil {
		return nil, b.explain(err)
	}
	defer tx.Rollback() //nolint:errcheck // after a commit there is nothing to roll back
	a := appender{ctx: ctx, tx: tx, from: from, now: b.o.Now()}
	if err := a.begin(b); err != nil {
		return nil, err
	}
	for i := range texts {
		if receipts[i].Refused != "" {
			continue
		}
		if receipts[i], err = a.add(parsed[i], texts[i]); err != nil {
			return nil, b.explain(err)
		}
	}
	if a.added == 0 {
		return receipts, nil
	}
	another := b.used != "" && b.used != b.about.Seal && !slices.Contains(b.about.Later, b.used)
	if another { // the version of the pack that the book is used with
		if _, err := tx.ExecContext(ctx, `INSERT INTO about VALUES(?,?)`, laterSeal, b.used); err != nil {
			return nil, b.explain(err)
		}
	}
	if err := tx.Commit(); err != nil {
		return nil, b.explain(err)
	}
	if another {
		b.about.Later = append(b.about.Later, b.used)
	}
	return receipts, nil
}

// namedID is the ID that a text names, also one that is refused; "" where it names none.
func namedID(text []byte) string {
	o := object{}
	_ = json.Unmarshal(text[:min(len(text), 4*MaxText)], &o)
	if id, err := o.text("id", 32); err == nil && hexID.MatchString(id) {
		return id
	}
	return ""
}

// appender adds entries in one transaction.
type appender struct {
	ctx    context.Context
	tx     *sql.Tx
	from   Sender
	now    time.Time
	number int64  // of the newest entry
	hash   string // of it
	added  int
}

func (a *appender) begin(b *Book) error {
	err := a.tx.QueryRowContext(a.ctx, `SELECT number, hash FROM entry ORDER BY number DESC LIMIT 1`).Scan(&a.number, &a.hash)
	if !errors.Is(err, sql.ErrNoRows) {
		return b.explain(err)
	}
	pairs, err := b.pairs(a.ctx, a.tx)
	a.hash = identity(pairs)
	return err
}

// add adds one entry, or says why not.
func (a *appender) add(t Text, text []byte) (Receipt, error) {
	known, refused, err := a.known(t, text)
	if err != nil || known != nil {
		return receiptOf(known), err
	}
	if refused != "" {
		return Receipt{ID: t.ID, Refused: refused}, nil
	}
	e := Entry{
		Number: a.number + 1, ID: t.ID, Mark: t.Mark, Action: t.Action, Text: text,
		Received: a.now.UTC().Truncate(time.Millisecond), Session: a.from.Session, Role: a.from.Role, Before: a.hash,
	}
	e.Hash = hashOf(e.Chain())
	_, err = a.tx.ExecContext(a.ctx, `INSERT INTO entry VALUES(?,?,?,?,?,?,?,?,?,?)`, e.Number, e.ID, e.Mark, string(e.Action),
		string(e.Text), stamp(e.Received), e.Session, e.Role, e.Before, e.Hash)
	if err != nil {
		return Receipt{}, err
	}
	a.number, a.hash = e.Number, e.Hash
	a.added++
	return receiptOf(&e), nil
}

func receiptOf(e *Entry) Receipt {
	if e == nil {
		return Receipt{}
	}
	return Receipt{ID: e.ID, Number: e.Number, Hash: e.Hash}
}

// known gives the entry of the same ID and text, or says why the entry cannot be one of
// this book.
func (a *appender) known(t Text, text []byte) (same *Entry, refused string, err error) {
	var e Entry
	var held string
	err = a.tx.QueryRowContext(a.ctx, `SELECT number, id, text, hash FROM entry WHERE id = ?`, t.ID).Scan(&e.Number, &e.ID, &held, &e.Hash)
	switch {
	case err == nil && held == string(text):
		return &e, "", nil
	case err == nil:
		return nil, "another entry with this ID is in the field book already", nil
	case !errors.Is(err, sql.ErrNoRows):
		return nil, "", err
	}
	var mark string
	err = a.tx.QueryRowContext(a.ctx, `SELECT mark FROM entry WHERE id = ?`, t.Mark).Scan(&mark)
	switch {
	case errors.Is(err, sql.ErrNoRows): // its first entry may come later, or went to another laptop
		return nil, "", nil
	case err == nil && mark != t.Mark:
		return nil, `"mark" is a later entry of another mark`, nil
	}
	return nil, "", err
}

// Latest is the number of the newest entry; 0 = the book has none.
func (b *Book) Latest(ctx context.Context) (n int64, err error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.db == nil {
		return 0, nil
	}
	var newest sql.NullInt64
	err = b.db.QueryRowContext(ctx, `SELECT max(number) FROM entry`).Scan(&newest)
	return newest.Int64, b.explain(err)
}

// Count counts the marks, struck ones too, and the photos that have all come.
func (b *Book) Count(ctx context.Context) (marks, photos int, err error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.db == nil {
		return 0, 0, nil
	}
	err = b.db.QueryRowContext(ctx, `SELECT (SELECT count(DISTINCT mark) FROM entry), (SELECT count(*) FROM photo WHERE proved IS NOT NULL)`).Scan(&marks, &photos)
	return marks, photos, b.explain(err)
}

// mostBytes is how many bytes of texts are read at once, so that nobody waits long.
const mostBytes = 4 << 20

// Entries gives entries after a number, in their order: at most so many, and fewer when
// their texts are long; none when there are none.
func (b *Book) Entries(ctx context.Context, after int64, limit int) ([]Entry, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.db == nil {
		return nil, nil
	}
	rows, err := b.db.QueryContext(ctx, `SELECT number, id, mark, action, text, received, session, role, before, hash
		FROM entry WHERE number > ? ORDER BY number LIMIT ?`, after, limit)
	if err != nil {
		return nil, b.explain(err)
	}
	defer rows.Close()
	var all []Entry
	for size := 0; rows.Next(); {
		var e Entry
		var received string
		if err := rows.Scan(&e.Number, &e.ID, &e.Mark, &e.Action, &e.Text, &received, &e.Session, &e.Role, &e.Before, &e.Hash); err != nil {
			return nil, b.explain(err)
		}
		if e.Received, err = time.Parse(timeForm, received); err != nil {
			return nil, notBook(b.path, "an entry was received at no time")
		}
		if all, size = append(all, e), size+len(e.Text); size > mostBytes {
			break
		}
	}
	return all, b.explain(rows.Err())
}
