package auth

import (
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"
)

// codeLife is how long a made code is kept: a crew joins once a week, and who
// left a crew is out after a week.
const codeLife = 7 * 24 * time.Hour

// keptName is the file with what must outlast a start: whoever reads it can come
// in, so only its owner may.
const keptName = "gate.json"

// keptVersion is the version of that file. Version 1 had codes of ten digits.
const keptVersion = 2

// kept is what the gate remembers from one start to the next.
type kept struct {
	Version int       `json:"version"`
	Key     []byte    `json:"key"` // signs sessions
	Look    string    `json:"look"`
	Mark    string    `json:"mark"`
	Made    time.Time `json:"made"`
}

func makeKept(now time.Time) kept {
	k := kept{Version: keptVersion, Key: make([]byte, 32), Look: makeCode(), Mark: makeCode(), Made: now.UTC().Truncate(time.Second)}
	_, _ = rand.Read(k.Key) // never fails, says crypto/rand
	for k.Mark == k.Look {
		k.Mark = makeCode()
	}
	return k
}

func (k kept) fit() bool {
	return k.Version == keptVersion && len(k.Key) == 32 && k.Look != k.Mark &&
		len(k.Look) == codeDigits && onlyDigits(k.Look) && len(k.Mark) == codeDigits && onlyDigits(k.Mark)
}

// recall gives the codes and the key of the last start, or makes new ones when
// there are none, when they are old, or when renew asks for it. notes say in
// plain words why phones have to join again, or why they will have to.
func recall(folder string, now time.Time, renew bool) (k kept, notes []string) {
	if folder == "" {
		return makeKept(now), nil
	}
	path := filepath.Join(folder, keptName)
	k, err := readKept(path)
	old := now.Sub(k.Made)
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case errors.Is(err, errShort):
		notes = append(notes, "join codes are longer now: new ones were made, phones join again")
	case err != nil:
		notes = append(notes, fmt.Sprintf("new join codes were made, phones join again: %v", err))
	case renew:
	case old > codeLife || old < -codeLife:
		notes = append(notes, "the join codes were older than 7 days: new ones were made, phones join again")
	default:
		return k, nil
	}
	k = makeKept(now)
	if err := k.write(path); err != nil {
		notes = append(notes, fmt.Sprintf("the join codes cannot be kept, phones join again after the next start: %v", err))
	}
	return k, notes
}

// errShort says that the kept codes are from before codes had twelve digits.
var errShort = errors.New("the codes are shorter than today's")

func readKept(path string) (k kept, err error) {
	info, err := os.Stat(path)
	if err != nil {
		return k, err
	}
	if !private(info) {
		return k, fmt.Errorf("others on this machine could read %s", path)
	}
	body, err := os.ReadFile(path)
	if err != nil {
		return k, err
	}
	err = json.Unmarshal(body, &k)
	if err == nil && k.Version == 1 {
		return kept{}, errShort
	}
	if err != nil || !k.fit() {
		return kept{}, fmt.Errorf("%s is damaged", path)
	}
	return k, nil
}

// write puts the file beside its name and renames it, so that a power cut
// leaves the old one or the new one.
func (k kept) write(path string) (err error) {
	body, err := json.MarshalIndent(k, "", "  ")
	if err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return err
	}
	f, err := os.CreateTemp(filepath.Dir(path), keptName+"-*") // made for its owner alone
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(f.Name()))
		}
	}()
	_, err = f.Write(body)
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}
