package unit

import (
	"math/bits"
	"strings"
)

// Ratio is a share in parts per million: 73.6 % is 736,000. It is also how
// ingoing nitrite is counted, in milligrams per kilogram, but limits are checked
// by exact cross-multiplication, never on a rounded Ratio.
type Ratio int64

// One is the whole.
const (
	One     Ratio = 1_000_000
	Percent       = One / 100
)

// widest bounds what may be typed: a millionfold is no share of anything.
const widest = 1_000_000 * One

// ParseRatio reads "2.2 %", "156 ppm" or a bare share such as "0.0625".
func ParseRatio(s string) (Ratio, error) {
	t := strings.TrimSpace(s)
	scale := int64(One)
	if n, ok := strings.CutSuffix(t, "%"); ok {
		t, scale = n, int64(Percent)
	} else if n, ok := strings.CutSuffix(t, "ppm"); ok {
		t, scale = n, 1
	}
	if v, ok := parseDecimal(strings.TrimSpace(t), scale); ok && v >= -int64(widest) && v <= int64(widest) {
		return Ratio(v), nil
	}
	return 0, &ParseError{Want: `a share, such as "2.2 %" or "156 ppm"`, Got: s}
}

// RatioOf returns the ratio nearest to f.
func RatioOf(f float64) Ratio { return Ratio(roundFloat(f * float64(One))) }

// Float is the share as a number, for models.
func (r Ratio) Float() float64 { return float64(r) / float64(One) }

// String writes the share exactly in per cent: "2.2 %".
func (r Ratio) String() string {
	s, ok := shortest(int64(r), int64(Percent), 0, 4)
	if !ok { // wider than can be typed
		s = formatDecimal(int64(r), int64(Percent), 4)
	}
	return s + " %"
}

// Pct writes the share in per cent to the given places: "73.6 %".
func (r Ratio) Pct(places int) string { return formatDecimal(int64(r), int64(Percent), places) + " %" }

// MarshalText writes String.
func (r Ratio) MarshalText() ([]byte, error) { return []byte(r.String()), nil }

// UnmarshalText reads what ParseRatio reads.
func (r *Ratio) UnmarshalText(b []byte) (err error) { *r, err = ParseRatio(string(b)); return err }

func mulMod(a, b, m int64) int64 {
	hi, lo := bits.Mul64(uint64(a), uint64(b))
	return int64(bits.Rem64(hi, lo, uint64(m)))
}
