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

// codeDigits is the length of a code that is made here.
const codeDigits = 12

// makeCode makes a join code.
func makeCode() string {
	n, err := rand.Int(rand.Reader, big.NewInt(1e12))
	if err != nil {
		panic(err) // the system's source of randomness never fails, says crypto/rand
	}
	return fmt.Sprintf("%0*d", codeDigits, n)
}

// Spoken is a code as it is read aloud and typed: digits in groups.
func Spoken(code string) string {
	if len(code) != codeDigits || !onlyDigits(code) {
		return code
	}
	return code[:3] + " " + code[3:6] + " " + code[6:9] + " " + code[9:]
}

func onlyDigits(code string) bool { return strings.Trim(code, "0123456789") == "" }

// plain is a code without what people put between its signs.
func plain(code string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) || strings.ContainsRune("-.–", r) {
			return -1
		}
		return unicode.ToLower(r)
	}, code)
}

// Bounds of a code that somebody chooses.
const shortestCode, longestCode = codeDigits, 64

// chosen proves a code that somebody chose and gives it as it is compared.
func chosen(code string) (string, error) {
	p := plain(code)
	n := 0
	signs := map[rune]bool{}
	for _, r := range p {
		if r > unicode.MaxASCII || !unicode.IsLetter(r) && !unicode.IsDigit(r) {
			return "", errors.New("a join code has only letters a to z and digits, so that every keyboard can type it")
		}
		signs[r] = true
		n++
	}
	if n < shortestCode || n > longestCode {
		return "", fmt.Errorf("a join code has %d to %d letters or digits, this one has %d", shortestCode, longestCode, n)
	}
	if len(signs) < 4 {
		return "", errors.New("this join code is too easy to guess: use four different signs or more")
	}
	return p, nil
}

// sameCode takes as long for a wrong code as for a right one.
func sameCode(typed, code string) bool {
	a, b := sha256.Sum256([]byte(plain(typed))), sha256.Sum256([]byte(code))
	return subtle.ConstantTimeCompare(a[:], b[:]) == 1 && code != ""
}
