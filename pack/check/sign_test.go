package check

import (
	"crypto/ed25519"
	"crypto/rand"
	"encoding/base64"
	"path/filepath"
	"testing"

	"groundsheet/pack"
	"groundsheet/tiles"
	"groundsheet/tiles/sqlite"
)

// TestSigned: a pack that was edited and sealed anew is fit by itself, and not by
// the office's key; nor is one that nobody or another signed.
func TestSigned(t *testing.T) {
	public, private, err := ed25519.GenerateKey(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	other, _, err := ed25519.GenerateKey(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "c.mbtiles")
	box, _ := deep.Bounds()
	h := whole(t)
	content := func(a pack.About) pack.Content {
		return pack.Content{About: a, Bounds: box, Covers: []tiles.Cover{shallow, deep}, Area: []byte(`{}`), Tiles: h}
	}
	signed := func(key ed25519.PrivateKey, a pack.About) bool {
		w, err := pack.Write(t.Context(), path, content(a), pack.WriteOptions{Sign: key})
		if err != nil {
			t.Fatal(err)
		}
		return w.Rewritten
	}
	if !signed(nil, about()) || !signed(private, about()) || signed(private, about()) || signed(nil, about()) {
		t.Error("a pack is written anew for a signature that it lacks, and only then")
	}
	if r := verdict(t, path, Options{Key: public}); r.Verdict != Fit {
		t.Errorf("%+v", r)
	}
	if r := verdict(t, path, Options{Key: other}); r.Verdict != NotFit || !has(r, "signature", Fault, "not signed with this key") {
		t.Errorf("%+v", r)
	}
	// Somebody takes the signature over into a pack of their own that lies.
	p, err := pack.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	was, ok, err := p.Signature(t.Context())
	if err := p.Close(); err != nil || !ok {
		t.Fatal(err, ok)
	}
	if err != nil || !was.Signs(public, p.Info.Seals.Seal) {
		t.Fatal(err)
	}
	lies := about()
	lies.Tolerance = &pack.Tolerance{EachSide: 0.01}
	if !signed(nil, lies) {
		t.Fatal("not written")
	}
	if r := verdict(t, path, Options{}); r.Verdict != Fit {
		t.Errorf("%+v", r)
	}
	if r := verdict(t, path, Options{Key: public}); !has(r, "signature", Fault, "not signed:") {
		t.Errorf("%+v", r)
	}
	db := sqlite.Open(path, sqlite.Options{Settings: "mode=rw"})
	_, err = db.ExecContext(t.Context(), `INSERT INTO groundsheet_document VALUES ('signature', ?)`, `{"key":"`+base64.StdEncoding.EncodeToString(was.Key)+`","signature":"`+base64.StdEncoding.EncodeToString(was.Signature)+`"}`)
	if closed := db.Close(); err != nil || closed != nil {
		t.Fatal(err, closed)
	}
	if r := verdict(t, path, Options{Key: public}); !has(r, "signature", Fault, "was changed since") {
		t.Errorf("%+v", r)
	}
}
