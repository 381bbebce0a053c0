package unit

import (
	"fmt"
	"strings"
)

// Weight is a mass in nanograms. The range is about nine million kilograms.
type Weight int64

// The units a weight may be written in.
const (
	Nanogram  Weight = 1
	Milligram        = 1_000_000 * Nanogram
	Gram             = 1000 * Milligram
	Kilogram         = 1000 * Gram
	Ounce            = 28_349_523_125 * Nanogram
	Pound            = 16 * Ounce
)

var weightUnits = []struct {
	suffix string
	one    Weight
}{{"kg", Kilogram}, {"mg", Milligram}, {"lb", Pound}, {"oz", Ounce}, {"g", Gram}}

// ParseWeight reads "5.25 lb", "84 oz", "2270 g", "2.27 kg" or "500 mg".
// The unit is required: a bare number is how the wrong unit slips in.
func ParseWeight(s string) (Weight, error) {
	t := strings.ToLower(strings.TrimSpace(s))
	for _, u := range weightUnits {
		if n, ok := strings.CutSuffix(t, u.suffix); ok {
			if v, ok := parseDecimal(strings.TrimSpace(n), int64(u.one)); ok {
				return Weight(v), nil
			}
			break
		}
	}
	return 0, &ParseError{Want: `a weight with its unit, such as "4.60 lb" or "2270 g"`, Got: s}
}

// ParseWeightIn reads a number in a unit the form already names, such as the
// pounds box of the weighing screen. A unit may be typed all the same.
func ParseWeightIn(s string, one Weight) (Weight, error) {
	t := strings.TrimSpace(s)
	if v, ok := parseDecimal(t, int64(one)); ok {
		return Weight(v), nil
	}
	w, err := ParseWeight(t)
	if err != nil {
		return 0, &ParseError{Want: fmt.Sprintf("a weight in %s, such as 4.60", unitName(one)), Got: s}
	}
	return w, nil
}

func unitName(one Weight) string {
	for _, u := range weightUnits {
		if u.one == one {
			return u.suffix
		}
	}
	return "that unit"
}

// WeightOfGrams returns the weight nearest to g grams. It is for figures from
// a published table in grams; reckoning stays in integers.
func WeightOfGrams(g float64) Weight { return Weight(roundFloat(g * float64(Gram))) }

// WeightOfPounds returns the weight nearest to lb pounds, for published tables.
func WeightOfPounds(lb float64) Weight { return Weight(roundFloat(lb * float64(Pound))) }

func roundFloat(f float64) int64 {
	if f < 0 {
		return int64(f - 0.5)
	}
	return int64(f + 0.5)
}

// Pounds and Grams are for probability and models only, never for limits.
func (w Weight) Pounds() float64 { return float64(w) / float64(Pound) }

// Grams is w in grams, for models and displays that round at once.
func (w Weight) Grams() float64 { return float64(w) / float64(Gram) }

// LB writes the weight in pounds to a hundredth, as the shop's scale shows: "4.60 lb".
func (w Weight) LB() string { return formatDecimal(int64(w), int64(Pound), 2) + " lb" }

// G writes the weight in grams to the given places: "41 g", "4.7 g".
func (w Weight) G(places int) string { return formatDecimal(int64(w), int64(Gram), places) + " g" }

// Number writes the weight in the given unit to the given places, without the unit.
func (w Weight) Number(one Weight, places int) string {
	return formatDecimal(int64(w), int64(one), places)
}

// String writes the weight exactly, in the first of lb, g, oz, kg or ng that needs
// at most a few places, so that Parse(String(w)) == w.
func (w Weight) String() string {
	if s, ok := shortest(int64(w), int64(Pound), 2, 4); ok {
		return s + " lb"
	}
	if s, ok := shortest(int64(w), int64(Gram), 0, 9); ok {
		return s + " g"
	}
	return fmt.Sprintf("%d ng", int64(w)) // unreachable: a nanogram is nine places of a gram
}

// Share returns w × r, rounded half up to a nanogram.
func (w Weight) Share(r Ratio) Weight { return Weight(MulDiv(int64(w), int64(r), int64(One), HalfUp)) }

// MulDiv returns w × a ÷ b, rounded half up to a nanogram.
func (w Weight) MulDiv(a, b int64) Weight { return Weight(MulDiv(int64(w), a, b, HalfUp)) }

// Round returns w to the nearest whole step, halves up: Round(Gram/10) is what a
// 0.1 g scale can be asked for.
func (w Weight) Round(step Weight) Weight {
	return Weight(MulDiv(int64(w), 1, int64(step), HalfUp)) * step
}

// RoundUp returns the smallest whole number of steps not under w.
func (w Weight) RoundUp(step Weight) Weight {
	return Weight(MulDiv(int64(w), 1, int64(step), Up)) * step
}

// RatioOf returns w ÷ whole in parts per million, rounded half up.
func (w Weight) RatioOf(whole Weight) Ratio {
	return Ratio(MulDiv(int64(w), int64(One), int64(whole), HalfUp))
}

// MarshalText writes String.
func (w Weight) MarshalText() ([]byte, error) { return []byte(w.String()), nil }

// UnmarshalText reads what ParseWeight reads.
func (w *Weight) UnmarshalText(b []byte) (err error) { *w, err = ParseWeight(string(b)); return err }
