// Package unit holds the exact quantities the whole house reckons in: Weight,
// Temp, Money, Ratio, Day and Instant. All are integers; nothing here rounds
// unless the call names the rounding.
//
// Sizes are chosen so that every step of a scale in either system is whole:
// a pound is 453,592,370,000 ng and an ounce 28,349,523,125 ng (international
// avoirdupois pound, exact since 1959; NIST Special Publication 811, appendix B),
// 0.1 °F is 10 and 0.1 °C is 18 hundredths of a degree Fahrenheit.
package unit

import (
	"errors"
	"fmt"
	"math"
	"math/bits"
	"strings"
)

// Rounding says what MulDiv does with a remainder.
type Rounding int

// The roundings. HalfUp rounds halves away from zero, as a shop till does.
const (
	HalfUp Rounding = iota
	Up              // away from zero
	Down            // towards zero
)

// ErrRange is returned or panicked with when a result does not fit an int64.
var ErrRange = errors.New("the number is too large to reckon with")

// MulDiv returns a × b ÷ c through a 128-bit product, rounded as named.
// It panics when c is zero or the result does not fit: both are mistakes of
// the caller, never of a user, since parsers bound what may be typed.
func MulDiv(a, b, c int64, r Rounding) int64 {
	if c == 0 {
		panic("unit: division by zero")
	}
	neg := (a < 0) != (b < 0) != (c < 0)
	hi, lo := bits.Mul64(abs(a), abs(b))
	d := abs(c)
	if hi >= d {
		panic(ErrRange)
	}
	q, rem := bits.Div64(hi, lo, d)
	switch r {
	case HalfUp:
		if rem >= d-rem {
			q++
		}
	case Up:
		if rem > 0 {
			q++
		}
	}
	if q > math.MaxInt64 {
		panic(ErrRange)
	}
	if neg {
		return -int64(q)
	}
	return int64(q)
}

func abs(v int64) uint64 {
	if v < 0 {
		return uint64(-(v + 1)) + 1
	}
	return uint64(v)
}

// A ParseError says what could not be read, in words fit for the person who typed it.
type ParseError struct {
	Want string // what was wanted, with an example
	Got  string // what was typed
}

func (e *ParseError) Error() string {
	if strings.Contains(e.Got, ",") {
		return fmt.Sprintf("%q is not %s; write a point, not a comma", e.Got, e.Want)
	}
	return fmt.Sprintf("%q is not %s", e.Got, e.Want)
}

// parseDecimal reads digits with at most one point into an integer scaled by
// scale, exactly: extra digits that would be lost are refused.
func parseDecimal(s string, scale int64) (int64, bool) {
	neg := false
	if strings.HasPrefix(s, "-") {
		neg, s = true, s[1:]
	}
	whole, frac, dotted := strings.Cut(s, ".")
	if whole == "" && frac == "" || dotted && frac == "" || len(whole) > 12 || len(frac) > 12 {
		return 0, false
	}
	var w int64
	for _, c := range whole {
		if c < '0' || c > '9' {
			return 0, false
		}
		w = w*10 + int64(c-'0')
	}
	hi, lo := bits.Mul64(uint64(w), uint64(scale))
	if hi != 0 || lo > math.MaxInt64/2 {
		return 0, false
	}
	total := int64(lo)
	if frac != "" {
		var f, den int64 = 0, 1
		for _, c := range frac {
			if c < '0' || c > '9' {
				return 0, false
			}
			f, den = f*10+int64(c-'0'), den*10
		}
		hi, lo := bits.Mul64(uint64(f), uint64(scale))
		q, rem := bits.Div64(hi, lo, uint64(den))
		if rem != 0 {
			return 0, false
		}
		total += int64(q)
	}
	if neg {
		total = -total
	}
	return total, true
}

// formatDecimal writes v ÷ scale with the given number of places, halves up.
func formatDecimal(v, scale int64, places int) string {
	pow := int64(1)
	for range places {
		pow *= 10
	}
	n := MulDiv(v, pow, scale, HalfUp)
	sign := ""
	if n < 0 {
		sign, n = "-", -n
	}
	if places == 0 {
		return fmt.Sprintf("%s%d", sign, n)
	}
	return fmt.Sprintf("%s%d.%0*d", sign, n/pow, places, n%pow)
}

// shortest writes v ÷ scale with as few places as say it exactly, at least min,
// or reports false when max places do not suffice.
func shortest(v, scale int64, min, max int) (string, bool) {
	for p := min; p <= max; p++ {
		s := formatDecimal(v, scale, p)
		if back, ok := parseDecimal(s, scale); ok && back == v {
			return s, true
		}
	}
	return "", false
}
