package auth

import (
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"errors"
	"fmt"
	"math/big"
	"strings"
	"unicode"
)

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
