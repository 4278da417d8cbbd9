package announce

import (
	"net/netip"
	"testing"
)

// TestTaken: a name that another machine answers to is taken; one that nobody
// answers to, or this machine itself, is free.
func TestTaken(t *testing.T) {
	const others, ours = "crew-8-of-a-test", "crew-9-of-a-test"
	at := netip.MustParseAddr("192.0.2.7") // of documentation (RFC 5737): no machine's own
	stop, err := Start(others, at)
	if err != nil {
		t.Logf("this machine has no network to announce on: %v", err)
		return
	}
	defer stop()
	stop, err = Start(ours, netip.Addr{})
	if err != nil {
		t.Fatal(err)
	}
	defer stop()
	if by, taken := Taken(t.Context(), others); !taken || by != at {
		t.Errorf("%s: by %v, %v", others, by, taken)
	}
	for _, name := range []string{ours, "crew-10-of-a-test"} {
		if by, taken := Taken(t.Context(), name); taken {
			t.Errorf("%s is taken by %v", name, by)
		}
	}
}
