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

// Role is what a client may do.
type Role byte

// Roles in rising order; each includes the one before it.
const (
	Nobody   Role = iota // not admitted
	Viewer               // sees everything
	Recorder             // also writes marks
)

// String returns the role as responses name it: "", "look" or "mark".
func (r Role) String() string { return map[Role]string{Viewer: "look", Recorder: "mark"}[r] }

// sessionLife is how long a phone stays in without sending the code again.
const sessionLife = 7 * 24 * time.Hour

// clockSlack is how far the clock of an offline laptop may be set back without
// ending sessions.
const clockSlack = 24 * time.Hour

// sessionID makes a session unique.
type sessionID [16]byte

// sessions issues and verifies the tokens in cookies: role, end and ID, signed. The
// server stores none of them.
type sessions struct {
	keys map[Role][]byte
	now  func() time.Time
}

// newSessions derives a key for each role from its code, so a new code ends the
// sessions of the old one.
func newSessions(key []byte, codes map[Role]string, now func() time.Time) sessions {
	s := sessions{keys: map[Role][]byte{}, now: now}
	for role, code := range codes {
		s.keys[role] = sign(key, []byte("session "+role.String()+" "+code))
	}
	return s
}

func sign(key, text []byte) []byte {
	h := hmac.New(sha256.New, key)
	h.Write(text)
	return h.Sum(nil)
}

const (
	claimsSize = 1 + 8 + len(sessionID{}) // role, end in Unix seconds, ID
	tokenSize  = claimsSize + sha256.Size
)

func (s sessions) issue(role Role) (token string) {
	claims := make([]byte, claimsSize, tokenSize)
	claims[0] = byte(role)
	binary.BigEndian.PutUint64(claims[1:], uint64(s.now().Add(sessionLife).Unix()))
	_, _ = rand.Read(claims[9:]) // never fails, says crypto/rand
	return base64.RawURLEncoding.EncodeToString(append(claims, sign(s.keys[role], claims)...))
}

// verify returns role and ID of a token, [Nobody] for a forged or ended one. A token
// that ends much later than a new one would was issued by a wrong clock, and has ended too.
func (s sessions) verify(token string) (role Role, id sessionID) {
	if len(token) != base64.RawURLEncoding.EncodedLen(tokenSize) {
		return Nobody, id
	}
	b, err := base64.RawURLEncoding.Strict().DecodeString(token)
	if err != nil {
		return Nobody, id
	}
	claims, signature := b[:claimsSize], b[claimsSize:]
	role = Role(claims[0])
	key, ok := s.keys[role]
	if !ok || !hmac.Equal(signature, sign(key, claims)) {
		return Nobody, id
	}
	end := time.Unix(int64(binary.BigEndian.Uint64(claims[1:])), 0)
	if left := end.Sub(s.now()); left <= 0 || left > sessionLife+clockSlack {
		return Nobody, id
	}
	return role, sessionID(claims[9:])
}

// Cookie names. Browsers refuse __Host- cookies from plain HTTP, from another path
// and from a neighboring host (RFC 6265bis).
const plainCookie, secureCookie = "groundsheet", "__Host-groundsheet"

func cookieName(r *http.Request) string {
	if r.TLS != nil {
		return secureCookie
	}
	return plainCookie
}

// cookie carries the token; an empty one removes the cookie.
func cookie(r *http.Request, token string) *http.Cookie {
	c := &http.Cookie{
		Name: cookieName(r), Value: token, Path: "/", MaxAge: int(sessionLife / time.Second),
		HttpOnly: true, Secure: r.TLS != nil, SameSite: http.SameSiteStrictMode,
	}
	if token == "" {
		c.MaxAge = -1
	}
	return c
}
