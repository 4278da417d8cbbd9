package auth

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

var noon = time.Date(2031, 5, 6, 12, 0, 0, 0, time.UTC)

func TestCodesAreKept(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "deep", "groundsheet")
	first, notes := loadCredentials(dir, noon, false)
	if len(notes) != 0 {
		t.Fatal(notes)
	}
	info, err := os.Stat(filepath.Join(dir, credentialsName))
	if err != nil || info.Mode().Perm()&0o077 != 0 {
		t.Fatalf("%v, %v: others may read the codes", err, info.Mode())
	}
	same := func(k credentials) bool {
		return k.Viewer == first.Viewer && k.Recorder == first.Recorder && string(k.Key) == string(first.Key)
	}
	if again, notes := loadCredentials(dir, noon.Add(6*24*time.Hour), false); !same(again) || len(notes) != 0 {
		t.Errorf("after six days: %v, %v", again, notes)
	}
	if old, notes := loadCredentials(dir, noon.Add(8*24*time.Hour), false); same(old) || len(notes) != 1 || !strings.Contains(notes[0], "7 days") {
		t.Errorf("after eight days: %v, %v", old, notes)
	}
	before, _ := loadCredentials(dir, noon.Add(8*24*time.Hour), false)
	if renewed, notes := loadCredentials(dir, noon.Add(8*24*time.Hour), true); renewed.Viewer == before.Viewer || string(renewed.Key) == string(before.Key) || len(notes) != 0 {
		t.Errorf("renewed: %v, %v", renewed, notes)
	}
	left, err := os.ReadDir(dir)
	if err != nil || len(left) != 1 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}

// TestBadCredentialsFiles: none of them lets an old code live on, and each is told.
func TestBadCredentialsFiles(t *testing.T) {
	good, _ := loadCredentials("", noon, false)
	for name, body := range map[string]string{
		"empty":     "",
		"cut":       `{"version":2,"key":"AAAA`,
		"no key":    `{"version":2,"look":"012345678901","mark":"112345678901","made":"2031-05-06T11:00:00Z"}`,
		"empty key": `{"version":2,"key":"","look":"012345678901","mark":"112345678901","made":"2031-05-06T11:00:00Z"}`,
		"one code":  `{"version":2,"key":"AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA=","look":"012345678901","mark":"012345678901","made":"2031-05-06T11:00:00Z"}`,
		"no codes":  `{"version":2,"key":"AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA=","look":"","mark":"112345678901","made":"2031-05-06T11:00:00Z"}`,
	} {
		dir := t.TempDir()
		if err := os.WriteFile(filepath.Join(dir, credentialsName), []byte(body), 0o600); err != nil {
			t.Fatal(err)
		}
		k, notes := loadCredentials(dir, noon, false)
		if !k.valid() || k.Viewer == "012345678901" || len(notes) != 1 || !strings.Contains(notes[0], "damaged") {
			t.Errorf("%s: %v, %v", name, k, notes)
		}
		for _, n := range notes {
			if strings.Contains(n, k.Viewer) || strings.Contains(n, good.Viewer) || strings.Contains(n, "012345678901") {
				t.Errorf("%s: a code stands in a note: %s", name, n)
			}
		}
	}
}

// TestEveryLayoutOfCodes: files that earlier versions wrote go on letting phones in.
func TestEveryLayoutOfCodes(t *testing.T) {
	kept, err := filepath.Glob(filepath.Join("..", "..", "testdata", "layouts", "codes-*.json"))
	if err != nil || len(kept) == 0 {
		t.Fatalf("%v, %v", kept, err)
	}
	if last := filepath.Base(kept[len(kept)-1]); last != fmt.Sprintf("codes-%d.json", credentialsVersion) {
		t.Errorf("the latest is %s: a new layout needs a file there", last)
	}
	for _, file := range kept {
		body, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		dir := t.TempDir()
		if err := os.WriteFile(filepath.Join(dir, credentialsName), body, 0o600); err != nil {
			t.Fatal(err)
		}
		made := time.Date(2031, 5, 6, 12, 0, 0, 0, time.UTC)
		if k, notes := loadCredentials(dir, made, false); k.Viewer != "012345678901" || len(notes) > 0 {
			t.Errorf("%s: %v, %v", file, k, notes)
		}
	}
}

// TestNewerCodes: what a newer version wrote is told and stays, also when new codes are asked for.
func TestNewerCodes(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, credentialsName)
	const body = `{"version":3,"key":["?"],"look":"012345678901","mark":"112345678901","made":"2031-05-06T11:00:00Z"}`
	if err := os.WriteFile(path, []byte(body), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, renew := range []bool{false, true} {
		k, notes := loadCredentials(dir, noon, renew)
		if !k.valid() || k.Viewer == "012345678901" || len(notes) != 1 || !strings.Contains(notes[0], "newer version") {
			t.Errorf("%v, %v", k, notes)
		}
		if now, err := os.ReadFile(path); err != nil || string(now) != body {
			t.Errorf("the file is now %q, %v", now, err)
		}
	}
}

// TestShortCodes: codes of before that had ten digits do not live on, and nothing is
// called damaged.
func TestShortCodes(t *testing.T) {
	dir := t.TempDir()
	body := `{"version":1,"key":"AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA=","look":"0123456789","mark":"1123456789","made":"2031-05-06T11:00:00Z"}`
	if err := os.WriteFile(filepath.Join(dir, credentialsName), []byte(body), 0o600); err != nil {
		t.Fatal(err)
	}
	if k, notes := loadCredentials(dir, noon, false); !k.valid() || len(notes) != 1 || !strings.Contains(notes[0], "longer now") {
		t.Errorf("%v, %v", k, notes)
	}
	if _, notes := loadCredentials(dir, noon, false); len(notes) != 0 {
		t.Errorf("at the next start: %v", notes)
	}
}

func TestCodesOthersCouldReadAreGone(t *testing.T) {
	dir := t.TempDir()
	first, _ := loadCredentials(dir, noon, false)
	path := filepath.Join(dir, credentialsName)
	if err := os.Chmod(path, 0o644); err != nil {
		t.Fatal(err)
	}
	second, notes := loadCredentials(dir, noon, false)
	if second.Viewer == first.Viewer || len(notes) != 1 || !strings.Contains(notes[0], "could read") {
		t.Errorf("%v", notes)
	}
	if info, err := os.Stat(path); err != nil || info.Mode().Perm()&0o077 != 0 {
		t.Errorf("%v %v", info.Mode(), err)
	}
}

// TestNowhereToKeep: a folder that cannot be made is reported, and the handler works.
func TestNowhereToKeep(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	k, notes := loadCredentials(filepath.Join(file, "groundsheet"), noon, false)
	if !k.valid() || len(notes) == 0 || !strings.Contains(notes[len(notes)-1], "cannot be kept") {
		t.Errorf("%v", notes)
	}
}
