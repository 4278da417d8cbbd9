package auth

import (
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/json"
	"errors"
	"fmt"
	"groundsheet/tiles/durable"
	"io/fs"
	"math/big"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"
	"unicode"
)

// codeLife is how long generated codes are used: a crew joins once a week, and
// former members are out after a week.
const codeLife = 7 * 24 * time.Hour

// credentialsName is the file that lets its reader in, so only its owner may read it.
const credentialsName = "gate.json"

// credentialsVersion is the version of that file. Version 1 had codes of ten digits.
const credentialsVersion = 2

// credentials are what the server needs again at its next start.
type credentials struct {
	Version  int       `json:"version"`
	Key      []byte    `json:"key"` // signs sessions
	Viewer   string    `json:"look"`
	Recorder string    `json:"mark"`
	Made     time.Time `json:"made"`
}

func newCredentials(now time.Time) credentials {
	c := credentials{
		Version: credentialsVersion, Key: make([]byte, 32),
		Viewer: generateCode(), Recorder: generateCode(), Made: now.UTC().Truncate(time.Second),
	}
	_, _ = rand.Read(c.Key) // never fails, says crypto/rand
	for c.Recorder == c.Viewer {
		c.Recorder = generateCode()
	}
	return c
}

func (c credentials) valid() bool {
	return c.Version == credentialsVersion && len(c.Key) == 32 && c.Viewer != c.Recorder &&
		len(c.Viewer) == codeDigits && len(c.Recorder) == codeDigits && onlyDigits(c.Viewer+c.Recorder)
}

// loadCredentials returns those of the last start, or new ones if there are none,
// if they are too old, or if renew asks for it. notes tell the operator why phones
// have to join again, now or after the next start.
func loadCredentials(folder string, now time.Time, renew bool) (c credentials, notes []string) {
	if folder == "" {
		return newCredentials(now), nil
	}
	path := filepath.Join(folder, credentialsName)
	c, err := readCredentials(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case errors.Is(err, errNewerCodes):
		return newCredentials(now), []string{
			fmt.Sprintf("%s was written by a newer version of this program and is left as it is: these join codes last until serve ends", path)}
	case errors.Is(err, errShortCodes):
		notes = append(notes, "join codes are longer now: new ones were made, phones join again")
	case err != nil:
		notes = append(notes, fmt.Sprintf("new join codes were made, phones join again: %v", err))
	case renew:
	case now.Sub(c.Made).Abs() > codeLife:
		notes = append(notes, "the join codes were older than 7 days: new ones were made, phones join again")
	default:
		return c, nil
	}
	c = newCredentials(now)
	if err := c.write(path); err != nil {
		notes = append(notes, fmt.Sprintf("the join codes cannot be kept, phones join again after the next start: %v", err))
	}
	return c, notes
}

var (
	errShortCodes = errors.New("the codes have ten digits")
	errNewerCodes = errors.New("the codes are of a newer version")
)

func readCredentials(path string) (c credentials, err error) {
	info, err := os.Stat(path)
	if err != nil {
		return c, err
	}
	if runtime.GOOS != "windows" && info.Mode().Perm()&0o077 != 0 { // Windows protects the user's folder instead
		return c, fmt.Errorf("others on this machine could read %s", path)
	}
	body, err := os.ReadFile(path)
	if err != nil {
		return c, err
	}
	err = json.Unmarshal(body, &c)
	var of struct{ Version int }
	if json.Unmarshal(body, &of) == nil && of.Version > credentialsVersion { // its other fields may be of other kinds
		return c, errNewerCodes
	}
	if err == nil && c.Version == 1 {
		return c, errShortCodes
	}
	if err != nil || !c.valid() {
		return c, fmt.Errorf("%s is damaged", path)
	}
	return c, nil
}

func (c credentials) write(path string) error {
	body, err := json.MarshalIndent(c, "", "  ")
	if err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return err
	}
	_ = os.Remove(path) // the new file would take over its permissions
	return durable.Write(path, body, 0o600)
}

// codeDigits is the length of a generated code.
const codeDigits = 12

func generateCode() string {
	n, _ := rand.Int(rand.Reader, big.NewInt(1e12)) // rand.Reader never fails, says crypto/rand
	return fmt.Sprintf("%0*d", codeDigits, n)
}

// FormatCode groups the digits of a generated code for reading aloud and typing.
// Chosen codes stay as they are.
func FormatCode(code string) string {
	if len(code) != codeDigits || !onlyDigits(code) {
		return code
	}
	return code[:3] + " " + code[3:6] + " " + code[6:9] + " " + code[9:]
}

func onlyDigits(code string) bool { return strings.Trim(code, "0123456789") == "" }

// normalize removes the separators that people type, and upper case.
func normalize(code string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) || strings.ContainsRune("-.–", r) {
			return -1
		}
		return unicode.ToLower(r)
	}, code)
}

// Bounds of a chosen code.
const minChosen, maxChosen = codeDigits, 64

// checkChosen returns a chosen code in its normal form.
func checkChosen(code string) (string, error) {
	code = normalize(code)
	distinct := map[rune]bool{}
	for _, r := range code {
		if !strings.ContainsRune("abcdefghijklmnopqrstuvwxyz0123456789", r) {
			return "", errors.New("a join code has only letters a to z and digits, so that every keyboard can type it")
		}
		distinct[r] = true
	}
	if n := len(code); n < minChosen || n > maxChosen {
		return "", fmt.Errorf("a join code has %d to %d letters or digits, this one has %d", minChosen, maxChosen, n)
	}
	if len(distinct) < 4 {
		return "", errors.New("this join code is too easy to guess; use four different letters or digits or more")
	}
	return code, nil
}

// sameCode compares in constant time. Nothing equals an empty code.
func sameCode(typed, code string) bool {
	a, b := sha256.Sum256([]byte(normalize(typed))), sha256.Sum256([]byte(code))
	return subtle.ConstantTimeCompare(a[:], b[:]) == 1 && code != ""
}
