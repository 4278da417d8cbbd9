package auth

import (
	"cmp"
	"fmt"
	"io/fs"
	"log/slog"
	"net/http"
	"slices"
	"strings"
	"time"

	"groundsheet/tiles/fault"
)

// Options of a [Handler]. The zero value asks everybody for a code that lasts as long as the process.
type Options struct {
	Folder       string              // keeps codes and session key between starts; "" = nothing is kept
	ViewerCode   string              // chosen by the operator; "" = a generated code
	RecorderCode string              // chosen by the operator; "" = a generated code
	NewCodes     bool                // generate new codes even if the kept ones are valid: every phone joins again
	Open         bool                // ask nobody for a code, everybody is a recorder; for loopback
	Hosts        []string            // further host names and addresses of this server
	Page         fs.FS               // holds join.html and its files; not needed if Open
	Log          *slog.Logger        // nil = silent
	Admitted     func(*http.Request) // called for each request that is let in; nil = nothing
}

// Handler is an [http.Handler] that passes admitted requests to the server behind
// it and answers all others itself. Make it with [New].
type Handler struct {
	inner    http.Handler
	open     bool
	codes    map[Role]string
	sessions sessions
	throttle *throttle
	limiter  *ConcurrencyLimiter
	hosts    hosts
	cross    *http.CrossOriginProtection
	files    map[string]File
	log      *slog.Logger
	admitted func(*http.Request)
}

// New puts a handler in front of inner. notes are for the operator: what could not be
// kept, and why phones have to join again. The error is an unusable chosen code or
// a missing join page.
func New(inner http.Handler, o Options) (h *Handler, notes []string, err error) {
	h = &Handler{
		inner: inner, open: o.Open, hosts: newHosts(o.Hosts), cross: http.NewCrossOriginProtection(),
		log: cmp.Or(o.Log, slog.New(slog.DiscardHandler)), admitted: o.Admitted,
	}
	if h.admitted == nil {
		h.admitted = func(*http.Request) {}
	}
	if h.open {
		return h, nil, nil
	}
	if h.files, err = joinFiles(o.Page); err != nil {
		return nil, nil, err
	}
	if h.codes, err = chosenCodes(o); err != nil { // before anything is written
		return nil, nil, err
	}
	c, notes := loadCredentials(o.Folder, time.Now(), o.NewCodes)
	h.codes[Viewer] = cmp.Or(h.codes[Viewer], c.Viewer)
	h.codes[Recorder] = cmp.Or(h.codes[Recorder], c.Recorder)
	if !onlyDigits(h.codes[Viewer] + h.codes[Recorder]) {
		h.files["/join"] = h.files["/join"].withLetters()
	}
	h.sessions = newSessions(c.Key, h.codes, time.Now)
	h.throttle = newThrottle(time.Now)
	h.limiter = NewLimiter(maxPerSession, maxPerAddress, maxQueued, maxWait)
	return h, notes, nil
}

func chosenCodes(o Options) (codes map[Role]string, err error) {
	codes = map[Role]string{}
	for role, code := range map[Role]string{Viewer: o.ViewerCode, Recorder: o.RecorderCode} {
		if code == "" {
			continue
		}
		if codes[role], err = checkChosen(code); err != nil {
			return nil, fmt.Errorf("the code to %s cannot be used: %w", role, err)
		}
	}
	if codes[Viewer] != "" && codes[Viewer] == codes[Recorder] {
		return nil, &fault.Fault{Detail: "the codes to look and to mark are the same", Remedy: "give two different ones"}
	}
	return codes, nil
}

// Code returns the code of a role in its normal form; "" if the handler is open.
func (h *Handler) Code(role Role) string { return h.codes[role] }

// ServeHTTP passes a request on or says why not. Behind [Handler.answer] every
// path needs a role, so no spelling of a path gets past the check.
func (h *Handler) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	switch {
	case !h.Check(w, r):
	case h.open:
		h.admitted(r)
		h.inner.ServeHTTP(w, withGrant(r, &grant{role: Recorder}))
	case h.answer(w, r):
	default:
		role, session, wait := h.authenticate(r)
		if role == Nobody {
			h.reject(w, r, wait)
			return
		}
		h.admitted(r)
		h.pass(w, r, &grant{role, &Phone{session: session, addr: LimitAddr(sender(r))}})
	}
}

// Bounds of package listen that [maxQueued] counts on.
const (
	MaxConnsPerAddr        = 48 // a browser opens six to a server
	MaxHTTP2StreamsPerConn = 32 // requests at once over HTTP/2; a large screen asks for about as many tiles
)

// How many requests run at once for a session and for an address. More wait for
// their turn, since clients repeat a refused request at once: all that one address can
// send over its connections. The project's own choice, no source.
const (
	maxPerSession = 16
	maxPerAddress = 32
	maxQueued     = MaxConnsPerAddr * MaxHTTP2StreamsPerConn
	maxWait       = 10 * time.Second
)

// pass hands the request on as soon as the limits of its phone allow.
func (h *Handler) pass(w http.ResponseWriter, r *http.Request, g *grant) {
	release, ok := h.limiter.Acquire(r.Context(), g.phone)
	if !ok {
		w.Header().Set("Retry-After", "1")
		Deny(w, http.StatusServiceUnavailable, "too many requests of this phone run already: try again in a moment")
		return
	}
	defer release()
	g.phone.release = release
	h.inner.ServeHTTP(w, withGrant(r, g))
}

// maxBody is the largest request body in bytes.
const maxBody = 1 << 20

// methods that the server behind may answer. TRACE would echo a cookie.
var methods = []string{
	http.MethodGet, http.MethodHead, http.MethodOptions, http.MethodPost,
	http.MethodPut, http.MethodPatch, http.MethodDelete,
}

// Check refuses and answers requests that no phone of the crew sends: for another
// host, with an unusual method, from a page of another site, or too large. It
// bounds the body of the others.
func (h *Handler) Check(w http.ResponseWriter, r *http.Request) (ok bool) {
	switch {
	case !h.hosts.own(r):
		Deny(w, http.StatusMisdirectedRequest, "this server is not called that: open the address that the laptop shows")
	case !slices.Contains(methods, r.Method):
		w.Header().Set("Allow", strings.Join(methods, ", "))
		Deny(w, http.StatusMethodNotAllowed, "this server does not know this method")
	case h.cross.Check(r) != nil:
		Deny(w, http.StatusForbidden, "a page of another site may not do this")
	case r.ContentLength > maxBody:
		w.Header().Set("Connection", "close")
		Deny(w, http.StatusRequestEntityTooLarge, "this is more than the server takes")
	default:
		if r.Body != nil && r.Body != http.NoBody {
			r.Body = http.MaxBytesReader(w, r.Body, maxBody)
		}
		return true
	}
	return false
}

// authenticate accepts a session, else the code in HTTP Basic. With wait above 0
// the code was not compared.
func (h *Handler) authenticate(r *http.Request) (role Role, session sessionID, wait time.Duration) {
	for _, c := range r.CookiesNamed(cookieName(r)) {
		if role, session = h.sessions.verify(c.Value); role != Nobody {
			return role, session, 0
		}
	}
	if _, code, ok := r.BasicAuth(); ok {
		role, wait = h.tryCode(r, code)
	}
	return role, sessionID{}, wait
}

func (h *Handler) tryCode(r *http.Request, code string) (role Role, wait time.Duration) {
	_, wait = h.throttle.try(sender(r), code, func() bool {
		for _, candidate := range []Role{Viewer, Recorder} { // both in any case: no difference in time
			if sameCode(code, h.codes[candidate]) {
				role = candidate
			}
		}
		return role != Nobody
	})
	return role, wait
}

// reject answers a request without session: a person gets the join page in
// place, a program a short text.
func (h *Handler) reject(w http.ResponseWriter, r *http.Request, wait time.Duration) {
	if wait > 0 {
		denyForNow(w, wait)
		return
	}
	w.Header().Set("WWW-Authenticate", challenge(r))
	if isGet(r) && strings.Contains(r.Header.Get("Accept"), "text/html") {
		h.files["/join"].Send(w, r, http.StatusUnauthorized)
		return
	}
	Deny(w, http.StatusUnauthorized,
		"the join code is wanted: open this address in a browser, or send the code as the password of HTTP Basic")
}

// challenge names the scheme (RFC 9110, 15.5.2 requires one). Browsers would
// open their own password window for Basic, even for a tile, so they get a scheme
// that they do not know and show the join page instead.
func challenge(r *http.Request) string {
	if strings.HasPrefix(r.UserAgent(), "Mozilla/") {
		return `JoinCode realm="field server"`
	}
	return `Basic realm="field server: the join code is the password", charset="UTF-8"`
}
