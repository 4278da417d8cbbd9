package auth

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"net/http"
	"time"
)

// Role is what somebody may do who came in.
type Role byte

// Roles, each may do what the one before it may.
const (
	Nobody Role = iota
	Look        // see everything
	Mark        // and write marks
)

// String gives the role as it stands in answers: "", "look" or "mark".
func (r Role) String() string {
	switch r {
	case Look:
		return "look"
	case Mark:
		return "mark"
	}
	return ""
}

// sessionLife is how long a phone stays in without the code.
const sessionLife = 7 * 24 * time.Hour

// clockSlack is how far the clock of a laptop without internet may be put back
// without throwing phones out.
const clockSlack = 24 * time.Hour

// sessions makes and proves what a phone keeps in its cookie: role, end and
// sixteen random bytes, signed. The server remembers nothing of them.
type sessions struct {
	keys map[Role][]byte
	now  func() time.Time
}

// newSessions derives a key for each role from its code, so that a new code ends
// the sessions of the old one.
func newSessions(key []byte, codes map[Role]string, now func() time.Time) sessions {
	s := sessions{keys: map[Role][]byte{}, now: now}
	for role, code := range codes {
		s.keys[role] = mac(key, []byte("session "+role.String()+" "+code))
	}
	return s
}

func mac(key, text []byte) []byte {
	h := hmac.New(sha256.New, key)
	h.Write(text)
	return h.Sum(nil)
}

const (
	sessionSaid = 1 + 8 + 16 // role, end in seconds since 1970, random bytes
	sessionLong = sessionSaid + sha256.Size
)

func (s sessions) make(role Role) (token string, life time.Duration) {
	said := make([]byte, sessionSaid, sessionLong)
	said[0] = byte(role)
	binary.BigEndian.PutUint64(said[1:], uint64(s.now().Add(sessionLife).Unix()))
	_, _ = rand.Read(said[9:]) // never fails, says crypto/rand
	return base64.RawURLEncoding.EncodeToString(append(said, mac(s.keys[role], said)...)), sessionLife
}

// prove proves a token and gives the random bytes that make it one of its own. A token
// that ends much later than a new one would was made by a clock that was wrong, and
// ends now.
func (s sessions) prove(token string) (role Role, id [16]byte) {
	if len(token) != base64.RawURLEncoding.EncodedLen(sessionLong) {
		return Nobody, id
	}
	b, err := base64.RawURLEncoding.Strict().DecodeString(token)
	if err != nil {
		return Nobody, id
	}
	said, signed := b[:sessionSaid], b[sessionSaid:]
	key, known := s.keys[Role(said[0])]
	if !known || !hmac.Equal(signed, mac(key, said)) {
		return Nobody, id
	}
	end := time.Unix(int64(binary.BigEndian.Uint64(said[1:])), 0)
	if left := end.Sub(s.now()); left <= 0 || left > sessionLife+clockSlack {
		return Nobody, id
	}
	return Role(said[0]), [16]byte(said[9:])
}

// Cookie names. __Host- makes the browser refuse it from plain HTTP, from another
// path and from a neighbouring host (RFC 6265bis).
const plainCookie, secureCookie = "groundsheet", "__Host-groundsheet"

func cookieName(r *http.Request) string {
	if r.TLS != nil {
		return secureCookie
	}
	return plainCookie
}

// cookie carries the token; an empty one takes it away.
func cookie(r *http.Request, token string, life time.Duration) *http.Cookie {
	c := &http.Cookie{
		Name: cookieName(r), Value: token, Path: "/", MaxAge: int(life / time.Second),
		HttpOnly: true, Secure: r.TLS != nil, SameSite: http.SameSiteStrictMode,
	}
	if token == "" {
		c.MaxAge = -1
	}
	return c
}
