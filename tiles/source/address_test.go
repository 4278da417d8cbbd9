package source_test

import (
	"math/rand/v2"
	"net/url"
	"strings"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/source"
)

func TestAddress(t *testing.T) {
	t.Setenv("GS_KEY", "a b/c&d")
	all := tiles.Zooms{Min: 0, Max: 22}
	id := tiles.ID{Z: 3, X: 5, Y: 2} // quadkey 121 and TMS row 5 by hand
	cases := []struct {
		name string
		s    source.Source
		want string
	}{
		{"xyz", source.Source{Kind: "xyz", URL: "https://t.example/{z}/{y}/{x}.jpg"}, "https://t.example/3/2/5.jpg"},
		{"row from the south", source.Source{Kind: "xyz", URL: "https://t.example/{z}/{x}/{-y}"}, "https://t.example/3/5/5"},
		{"tms", source.Source{Kind: "tms", URL: "https://t.example/{z}/{x}/{y}"}, "https://t.example/3/5/5"},
		{"quadkey", source.Source{Kind: "xyz", URL: "https://t.example/{q}.png"}, "https://t.example/121.png"},
		{"subdomain", source.Source{Kind: "xyz", URL: "https://{s}.t.example/{q}", Subdomains: []string{"a", "b"}}, "https://b.t.example/121"},
		{"key in query", source.Source{Kind: "xyz", URL: "https://t.example/{q}?k={key}", KeyEnv: "GS_KEY"}, "https://t.example/121?k=a+b%2Fc%26d"},
		{"key in path", source.Source{Kind: "xyz", URL: "https://t.example/{key}/{q}", KeyEnv: "GS_KEY"}, "https://t.example/a%20b%2Fc&d/121"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			c.s.Zooms = all
			got, err := c.s.Address(id)
			if err != nil || got != c.want {
				t.Errorf("%q, %v, want %q", got, err, c.want)
			}
		})
	}
}

func TestAddressErrors(t *testing.T) {
	t.Setenv("GS_EMPTY", " ")
	url := "https://t.example/{q}?k={key}"
	zooms := tiles.Zooms{Min: 4, Max: 10}
	cases := []struct {
		name string
		s    source.Source
		id   tiles.ID
		want string
	}{
		{"key not set", source.Source{URL: url, KeyEnv: "GS_NOT_SET", Zooms: zooms}, tiles.ID{Z: 5}, "GS_NOT_SET"},
		{"key blank", source.Source{URL: url, KeyEnv: "GS_EMPTY", Zooms: zooms}, tiles.ID{Z: 5}, "GS_EMPTY"},
		{"too deep", source.Source{URL: url, Zooms: zooms}, tiles.ID{Z: 11}, "4 to 10"},
		{"no such tile", source.Source{URL: url, Zooms: zooms}, tiles.ID{Z: 5, X: 32}, "5/32/0"},
		{"practice not running", source.Source{Name: "practice", Kind: "practice", Zooms: zooms}, tiles.ID{Z: 5}, "not running"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			if got, err := c.s.Address(c.id); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("%q, %v, want an error with %q", got, err, c.want)
			}
		})
	}
}

// A key never survives Redact, however it was written into the text.
func TestRedactRemovesEveryForm(t *testing.T) {
	letters := []rune("abcXYZ019-_.~ /?&=+%#é\"\\:@;,!'()$*")
	rng := rand.New(rand.NewPCG(1, 2))
	s := source.Source{Kind: "xyz", KeyEnv: "GS_KEY", URL: "https://t.example/{key}/{q}?k={key}", Zooms: tiles.Zooms{Max: 5}}
	for range 2000 {
		key := "K9"
		for range 6 + rng.IntN(20) {
			key += string(letters[rng.IntN(len(letters))])
		}
		key += "Q7"
		t.Setenv("GS_KEY", key)
		address, err := s.Address(tiles.ID{Z: 2, X: 1, Y: 1})
		if err != nil {
			t.Fatal(err)
		}
		u, err := url.Parse(address)
		if err != nil {
			t.Fatalf("key %q: %v", key, err)
		}
		for _, text := range []string{key, address, "Get " + u.String() + ": refused", url.QueryEscape(key), url.PathEscape(key),
			strings.ToLower(url.QueryEscape("é")) + key, (&url.URL{Path: "/" + key}).String(), key + key} {
			got := s.Redact(text)
			for _, form := range []string{key, url.QueryEscape(key), url.PathEscape(key), "K9", "Q7"} {
				if strings.Contains(got, form) {
					t.Fatalf("key %q, text %q: %q still holds %q", key, text, got, form)
				}
			}
		}
		if want := "https://t.example/{key}/03?k={key}"; s.Redact(address) != want {
			t.Fatalf("key %q: address redacted to %q, want %q", key, s.Redact(address), want)
		}
	}
}

func TestTakeKey(t *testing.T) {
	t.Setenv("GS_KEY", "1/é")
	s := source.Source{KeyEnv: "GS_KEY"}
	for address, want := range map[string]string{
		"http://1.example/1%2F%C3%A9/a?k=1%2F%C3%A9&v=1": "http://1.example/{key}/a?k={key}&v=1",
		"http://1.example?k=1%2f%c3%a9":                  "http://1.example?k={key}",
		"1%2F%C3%A9/{z}":                                 "{key}/{z}",
		"http://1.example/x1%2F%C3%A9":                   "http://1.example/x1%2F%C3%A9",
		"":                                               "",
	} {
		if got := s.TakeKey(address); got != want {
			t.Errorf("%s became %s, want %s", address, got, want)
		}
	}
	if got := (source.Source{}).TakeKey("http://a.example/1"); got != "http://a.example/1" {
		t.Errorf("without a key: %s", got)
	}
}

func TestRedactWithoutKeyChangesNothing(t *testing.T) {
	for _, s := range []source.Source{{}, {KeyEnv: "GS_NOT_SET"}} {
		if got := s.Redact("plain text"); got != "plain text" {
			t.Errorf("%+v: %q", s, got)
		}
	}
}

func TestFingerprint(t *testing.T) {
	base := source.Source{Name: "a", Kind: "xyz", URL: "https://t.example/{q}?k={key}", KeyEnv: "GS_KEY", TileSize: 256}
	t.Setenv("GS_KEY", "one")
	first := base.StoreName()
	if len(base.Fingerprint()) != 8 || first != "a-"+base.Fingerprint() {
		t.Errorf("store name %q, fingerprint %q", first, base.Fingerprint())
	}
	t.Setenv("GS_KEY", "two")
	if base.StoreName() != first {
		t.Error("the key changed the store name")
	}
	url, kind, size := base, base, base
	url.URL, kind.Kind, size.TileSize = "https://t.example/v2/{q}?k={key}", "tms", 512
	for name, other := range map[string]source.Source{"url": url, "kind": kind, "size": size} {
		if other.StoreName() == first {
			t.Errorf("another %s kept the store name", name)
		}
	}
}
