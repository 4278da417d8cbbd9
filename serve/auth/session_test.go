package auth

import (
	"encoding/base64"
	"strings"
	"testing"
	"time"
)

func testSessions(look, mark string, now *time.Time) sessions {
	return newSessions([]byte("a key of thirty-two bytes, told."), map[Role]string{Viewer: look, Recorder: mark}, func() time.Time { return *now })
}

// role is what a token lets its holder do.
func (s sessions) role(token string) Role {
	role, _ := s.verify(token)
	return role
}

func TestSessionLife(t *testing.T) {
	now := noon
	s := testSessions("0123456789", "1123456789", &now)
	for _, role := range []Role{Viewer, Recorder} {
		now = noon
		token := s.issue(role)
		for after, want := range map[time.Duration]Role{
			0: role, sessionLife - 2*time.Second: role, sessionLife + time.Second: Nobody, 365 * 24 * time.Hour: Nobody,
			-20 * time.Hour: role, -25 * time.Hour: Nobody, // made by a clock that was ahead
		} {
			now = noon.Add(after)
			if got := s.role(token); got != want {
				t.Errorf("%v after %v: %v", role, after, got)
			}
		}
	}
}

// TestSessionForging: no token but one made here is taken, and none made here can be changed.
func TestSessionForging(t *testing.T) {
	now := noon
	s := testSessions("0123456789", "1123456789", &now)
	token := s.issue(Viewer)
	raw, err := base64.RawURLEncoding.DecodeString(token)
	if err != nil {
		t.Fatal(err)
	}
	for bit := range len(raw) * 8 {
		changed := append([]byte{}, raw...)
		changed[bit/8] ^= 1 << (bit % 8)
		if got := s.role(base64.RawURLEncoding.EncodeToString(changed)); got != Nobody {
			t.Fatalf("bit %d turned: %v", bit, got)
		}
	}
	look := s.issue(Viewer)
	mark := s.issue(Recorder)
	for name, forged := range map[string]string{
		"empty": "", "cut": token[:len(token)-1], "longer": token + "A", "padded": token + "=", "signed by nothing": strings.Repeat("A", len(token)),
		"role of one, signature of another": mark[:12] + look[12:], "no base64": strings.Repeat("!", len(token)), "two": token + token,
		"nobody's": s.issue(Nobody), "a role that is none": s.issue(Role(7)),
	} {
		if got := s.role(forged); got != Nobody {
			t.Errorf("%s: %v", name, got)
		}
	}
	if other := s.issue(Viewer); other == token {
		t.Error("two phones have one token")
	}
}

// TestSessionReplayAfterCodeChange: a new code ends the sessions of its role, a new
// key all of them.
func TestSessionReplayAfterCodeChange(t *testing.T) {
	now := noon
	old := testSessions("0123456789", "1123456789", &now)
	look := old.issue(Viewer)
	mark := old.issue(Recorder)
	changed := testSessions("2223456789", "1123456789", &now)
	if changed.role(look) != Nobody || changed.role(mark) != Recorder {
		t.Errorf("after a new code to look: %v, %v", changed.role(look), changed.role(mark))
	}
	swapped := testSessions("1123456789", "0123456789", &now)
	if swapped.role(look) != Nobody || swapped.role(mark) != Nobody {
		t.Error("swapped codes swap roles")
	}
	other := newSessions([]byte("another key of thirty-two bytes."), map[Role]string{Viewer: "0123456789", Recorder: "1123456789"}, old.now)
	if other.role(look) != Nobody || other.role(mark) != Nobody {
		t.Error("the key of another server is taken")
	}
}

// FuzzSession: nothing that was not made here is a session.
func FuzzSession(f *testing.F) {
	now := noon
	s := testSessions("0123456789", "1123456789", &now)
	token := s.issue(Recorder)
	f.Add(token[:20])
	f.Add(token + "x")
	f.Add("")
	f.Fuzz(func(t *testing.T, forged string) {
		if forged != token && s.role(forged) != Nobody {
			t.Errorf("%q is taken", forged)
		}
	})
}
