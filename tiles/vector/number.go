package vector

import (
	"math"
	"strconv"
	"strings"
)

// number reads a plain decimal number and nothing else strconv would take:
// no hexadecimals, no underscores, no "inf" or "nan".
func number(s string) (float64, bool) {
	if s == "" || strings.Trim(s, "0123456789+-.eE") != "" || strings.ContainsAny(s, "xX_") {
		return 0, false
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil && !math.IsInf(v, 0)
}
