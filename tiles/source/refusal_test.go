package source_test

import (
	"errors"
	"strings"
	"testing"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/source"
)

func TestRefusal(t *testing.T) {
	ok := &source.Terms{Offline: "allowed"}
	plain := "https://t.example/{q}"
	cases := []struct {
		name  string
		url   string
		subs  []string
		terms *source.Terms
		want  []string // nil = allowed
	}{
		{"allowed", plain, nil, ok, nil},
		{"permission with text", plain, nil, &source.Terms{Offline: "permission", Permission: "letter of 2026-03-01"}, nil},
		{"no terms", plain, nil, nil, []string{"no terms", "[s.terms]"}},
		{"nothing said", plain, nil, &source.Terms{}, []string{"do not say"}},
		{"forbidden", plain, nil, &source.Terms{Offline: "forbidden"}, []string{"forbid offline use"}},
		{"permission without text", plain, nil, &source.Terms{Offline: "permission"}, []string{"who, when, reference"}},
		{"unknown word", plain, nil, &source.Terms{Offline: "Allowed"}, []string{`"Allowed"`, "not a known word"}},
		{"osm", "https://tile.openstreetmap.org/{q}", nil, ok, []string{"OSMF Tile Usage Policy", "https://operations.osmfoundation.org/policies/tiles/", "2025-12-19", "terms permit"}},
		{"osm vector", "https://vector.openstreetmap.org/{q}", nil, ok, []string{"OSMF"}},
		{"osm with letter", "https://a.tile.openstreetmap.org/{q}", nil, ok, []string{"OSMF"}},
		{"osm itself", "https://openstreetmap.org/{q}", nil, ok, []string{"OSMF"}},
		{"osm in capitals", "HTTPS://Tile.OpenStreetMap.ORG/{q}", nil, ok, []string{"OSMF"}},
		{"osm with dot and port", "https://tile.openstreetmap.org.:443/{q}", nil, ok, []string{"OSMF"}},
		{"osm behind a user", "https://t.example@tile.openstreetmap.org/{q}", nil, ok, []string{"OSMF"}},
		{"osm by subdomain", "https://{s}/{q}", []string{"t.example", "tile.openstreetmap.org"}, ok, []string{"OSMF"}},
		{"osm by half a name", "https://tile.openstreetma{s}/{q}", []string{"p.org"}, ok, []string{"OSMF"}},
		{"osm with wide dots", "https://tile。openstreetmap。org/{q}", nil, ok, []string{"plain letters"}},
		{"osm by a wide letter", "https://tile.openstreetmap.ｏrg/{q}", nil, ok, []string{"plain letters"}},
		{"osm with escapes", "https://tile.openstreetmap%2Eorg/{q}", nil, ok, []string{"cannot be read"}},
		{"osm only as user", "https://tile.openstreetmap.org@t.example/{q}", nil, ok, nil},
		{"name that ends alike", "https://notopenstreetmap.org/{q}", nil, ok, nil},
		{"osm in the path", "https://t.example/openstreetmap.org/{q}", nil, ok, nil},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			err := source.Source{Name: "s", Kind: "xyz", URL: c.url, Subdomains: c.subs, Terms: c.terms}.Refusal()
			if c.want == nil {
				if err != nil {
					t.Fatalf("refused: %v", err)
				}
				return
			}
			var r *fault.Fault
			if !errors.Is(err, source.Refused) || !errors.As(err, &r) || !strings.Contains(r.Place, `"s"`) || r.Detail == "" || r.Remedy == "" {
				t.Fatalf("error %v (%T), want a Refused with why and remedy", err, err)
			}
			for _, w := range c.want {
				if !strings.Contains(err.Error(), w) {
					t.Errorf("message %q lacks %q", err, w)
				}
			}
		})
	}
}

func TestForbiddenHost(t *testing.T) {
	for host, want := range map[string]bool{
		"tile.openstreetmap.org": true, "OPENSTREETMAP.ORG.": true, "c.tile.openstreetmap.org:8080": true,
		"openstreetmap.org..": true, "x@tile.openstreetmap.org": true, "tile。openstreetmap。org": true,
		"openstreetmap.org.t.example": false, "t.example:443": false, "127.0.0.1:80": false, "[::1]:80": false, "[fe80::1%25eth0]:80": false, "": false,
	} {
		if policy, got := source.ForbiddenHost(host); got != want || got == (policy == "") {
			t.Errorf("%q: %v, policy %q, want %v", host, got, policy, want)
		}
	}
}
