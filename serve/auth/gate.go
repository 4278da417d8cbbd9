package auth

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net/http"
	"strings"
	"time"
)

// Options of a gate. The zero value asks everybody for a code that is forgotten at the end.
type Options struct {
	Folder         string           // where codes and keys are kept from one start to the next; "" = nowhere
	LookCode       string           // a code somebody chose, for those who look; "" = a made one
	MarkCode       string           // the same for those who mark
	NewCodes       bool             // make new codes even if kept ones are good: every phone joins again
	Open           bool             // nobody is asked for a code, everybody may mark; for loopback
	Ask            bool             // [Listen] asks for the code on loopback too
	HTTPS          bool             // [Listen] speaks HTTPS with a certificate made here
	NewCertificate bool             // with HTTPS: make a new one that phones install, for the networks of today
	Name           string           // [Listen] announces NAME.local; "" = nothing
	Names          []string         // other host names and addresses that this server is reached by
	MaxBody        int64            // bytes of a request's body; 0 = 1 MiB
	Page           fs.FS            // holds join.html, join.js, join.css and icon.svg
	Now            func() time.Time // nil = the clock
	Log            *slog.Logger     // nil = silent
	OnStop         func()           // called when [Listen] begins to stop, to end what does not end by itself; nil = nothing

	limits limits // zero = the usual ones
}

// Gate lets requests through to the server behind it, or not. It is an
// http.Handler; make it with [New].
type Gate struct {
	inner    http.Handler
	open     bool
	codes    map[Role]string
	sessions sessions
	throttle *throttle
	turns    *Turns
	hosts    hosts
	cross    *http.CrossOriginProtection
	pages    map[string]page
	maxBody  int64
	log      *slog.Logger
	ca       *certificatePage // nil without HTTPS
}

// New puts a gate before inner. notes are for the operator: what could not be
// kept, and why phones have to join again. The error is a chosen code that will not
// do, or a page that lacks its join page.
func New(inner http.Handler, o Options) (g *Gate, notes []string, err error) {
	g = &Gate{
		inner: inner, open: o.Open, hosts: newHosts(o.Names), cross: http.NewCrossOriginProtection(),
		maxBody: o.MaxBody, log: o.Log,
	}
	now := o.Now
	if now == nil {
		now = time.Now
	}
	if g.maxBody == 0 {
		g.maxBody = 1 << 20
	}
	if g.log == nil {
		g.log = slog.New(slog.DiscardHandler)
	}
	if g.open {
		return g, nil, nil
	}
	if g.pages, err = joinPages(o.Page); err != nil {
		return nil, nil, err
	}
	if g.codes, err = chosenCodes(o); err != nil { // before anything is kept
		return nil, nil, err
	}
	k, notes := recall(o.Folder, now(), o.NewCodes)
	for role, made := range map[Role]string{Look: k.Look, Mark: k.Mark} {
		if g.codes[role] == "" {
			g.codes[role] = made
		}
	}
	if !onlyDigits(g.codes[Look] + g.codes[Mark]) {
		g.pages["/join"] = g.pages["/join"].withLetters()
	}
	g.sessions = newSessions(k.Key, g.codes, now)
	g.throttle = newThrottle(now)
	g.turns = NewTurns(mostOfSession, mostOfAddress, mostWaiting, turnPatience)
	return g, notes, nil
}

// chosenCodes are those that somebody gave.
func chosenCodes(o Options) (codes map[Role]string, err error) {
	codes = map[Role]string{}
	for role, given := range map[Role]string{Look: o.LookCode, Mark: o.MarkCode} {
		if given == "" {
			continue
		}
		if codes[role], err = chosen(given); err != nil {
			return nil, fmt.Errorf("the code to %s will not do: %w", role, err)
		}
	}
	if codes[Look] != "" && codes[Look] == codes[Mark] {
		return nil, errors.New("the codes to look and to mark are the same; give two")
	}
	return codes, nil
}

// Code gives the code of a role, "" on an open gate.
func (g *Gate) Code(role Role) string { return g.codes[role] }

// RoleOf tells what the sender of a request may do. Nobody, for a request that
// came by no gate.
func RoleOf(r *http.Request) Role {
	if v := visitOf(r); v != nil {
		return v.role
	}
	return Nobody
}

// ServeHTTP lets a request in or says why not. What the gate answers itself never
// reaches the server behind it, and what is left needs a role: no way of writing
// a path gets round that.
func (g *Gate) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if !g.proper(w, r) {
		return
	}
	if g.ca != nil && g.ca.answer(w, r) {
		return
	}
	if g.open {
		if RoleOf(r) != Mark { // [Listen] gives everybody who comes to an open gate a role beforehand
			r = r.WithContext(context.WithValue(r.Context(), visitKey{}, &visit{role: Mark}))
		}
		g.inner.ServeHTTP(w, r)
		return
	}
	if g.ownPath(w, r) {
		return
	}
	role, session, wait := g.roleOf(r)
	if role == Nobody {
		g.turnAway(w, r, wait)
		return
	}
	if guest := guestOf(r); guest != nil {
		guest.welcome()
	}
	g.pass(w, r, &visit{role, &Phone{session: session, from: counted(client(r))}})
}

// How much may run at once for one session, and for one address; more waits its
// turn: whoever is refused at once asks again at once. All that one address can send over
// its connections may wait. The project's own choice, no source.
const (
	mostOfSession = 16
	mostOfAddress = 32
	mostWaiting   = mostConnsEach * mostStreams
	turnPatience  = 10 * time.Second
)

// pass hands a request on when it is its phone's turn.
func (g *Gate) pass(w http.ResponseWriter, r *http.Request, v *visit) {
	done, ok := g.turns.Take(r.Context(), v.phone)
	if !ok {
		w.Header().Set("Retry-After", "1")
		deny(w, http.StatusServiceUnavailable, "too many requests of this phone run already: try again in a moment")
		return
	}
	defer done()
	v.phone.release = done
	g.inner.ServeHTTP(w, r.WithContext(context.WithValue(r.Context(), visitKey{}, v)))
}

// proper refuses what no phone of the crew sends.
func (g *Gate) proper(w http.ResponseWriter, r *http.Request) bool {
	switch {
	case !g.hosts.own(r):
		deny(w, http.StatusMisdirectedRequest, "this server is not called that: open the address that the laptop shows")
	case !allowed(r.Method):
		w.Header().Set("Allow", methods)
		deny(w, http.StatusMethodNotAllowed, "this server does not know this method")
	case g.cross.Check(r) != nil:
		deny(w, http.StatusForbidden, "a page of another site may not do this")
	case r.ContentLength > g.maxBody:
		w.Header().Set("Connection", "close")
		deny(w, http.StatusRequestEntityTooLarge, "this is more than the server takes")
	default:
		if r.Body != nil && r.Body != http.NoBody {
			r.Body = http.MaxBytesReader(w, r.Body, g.maxBody)
		}
		return true
	}
	return false
}

// methods that anything behind the gate may answer. TRACE would send a cookie back.
const methods = "GET, HEAD, OPTIONS, POST, PUT, PATCH, DELETE"

func allowed(method string) bool {
	switch method {
	case http.MethodGet, http.MethodHead, http.MethodOptions, http.MethodPost, http.MethodPut, http.MethodPatch, http.MethodDelete:
		return true
	}
	return false
}

// roleOf looks for a session, then for a code in HTTP Basic. wait is above 0 when
// the code was not even looked at.
func (g *Gate) roleOf(r *http.Request) (role Role, session [16]byte, wait time.Duration) {
	for _, c := range r.CookiesNamed(cookieName(r)) {
		if role, session = g.sessions.prove(c.Value); role != Nobody {
			return role, session, 0
		}
	}
	if _, code, ok := r.BasicAuth(); ok {
		role, wait = g.take(r, code)
	}
	return role, [16]byte{}, wait
}

// take proves a code.
func (g *Gate) take(r *http.Request, code string) (role Role, wait time.Duration) {
	_, wait = g.throttle.try(client(r), code, func() bool {
		for _, want := range []Role{Look, Mark} { // both, whatever the first came to
			if sameCode(code, g.codes[want]) {
				role = want
			}
		}
		return role != Nobody
	})
	return role, wait
}

// turnAway answers somebody without a session: a person gets the join page in
// place, everybody else a short text.
func (g *Gate) turnAway(w http.ResponseWriter, r *http.Request, wait time.Duration) {
	if wait > 0 {
		tooMany(w, wait)
		return
	}
	w.Header().Set("WWW-Authenticate", challenge(r))
	if (r.Method == http.MethodGet || r.Method == http.MethodHead) && strings.Contains(r.Header.Get("Accept"), "text/html") {
		g.pages["/join"].send(w, r, http.StatusUnauthorized)
		return
	}
	deny(w, http.StatusUnauthorized, "the join code is wanted: open this address in a browser, or send the code as the password of HTTP Basic")
}

// challenge says how to come in (RFC 9110, 15.5.2 asks for it). A browser would
// answer Basic with a window of its own, asked by any tile; so browsers are told a
// scheme that they do not know, and see the join page.
func challenge(r *http.Request) string {
	if strings.HasPrefix(r.UserAgent(), "Mozilla/") {
		return `JoinCode realm="field server"`
	}
	return `Basic realm="field server: the join code is the password", charset="UTF-8"`
}
