package cure

import (
	"math/big"
	"strings"

	"flitchbook/planner/unit"
)

// PPM is milligrams per kilogram in thousandths: 156.25 ppm is 156,250. It states
// limits and shows results; a result is compared with a limit before it is rounded
// to a PPM.
type PPM int64

// MgPerKg is one part per million by weight.
const MgPerKg PPM = 1000

// ParsePPM reads "156.25 ppm" or "156.25".
func ParsePPM(s string) (PPM, error) {
	n := strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(s), "ppm"))
	// A gram holds a thousand milligrams exactly, so its parser keeps three places.
	w, err := unit.ParseWeight(n + " g")
	if err != nil || w%unit.Milligram != 0 || w < 0 {
		return 0, &unit.ParseError{Want: `parts per million, such as "156.25 ppm"`, Got: s}
	}
	return PPM(w / unit.Milligram), nil
}

// String writes the figure exactly: "156.25 ppm", "200 ppm".
func (p PPM) String() string {
	s, _ := p.frac().decimal(3)
	return strings.TrimRight(strings.TrimRight(s, "0"), ".") + " ppm"
}

// Show writes the figure to a tenth, halves up: "156.4 ppm".
func (p PPM) Show() string {
	s, _ := p.frac().decimal(1)
	return s + " ppm"
}

// MarshalText writes String.
func (p PPM) MarshalText() ([]byte, error) { return []byte(p.String()), nil }

// UnmarshalText reads what ParsePPM reads.
func (p *PPM) UnmarshalText(b []byte) (err error) { *p, err = ParsePPM(string(b)); return err }

func (p PPM) frac() frac { return whole(int64(p)).over(int64(MgPerKg)) }

func (p PPM) rat() *big.Rat { return big.NewRat(int64(p), int64(MgPerKg)) }

// ppmOf rounds an exact figure in mg/kg to thousandths, halves up.
func ppmOf(r *big.Rat) PPM { return PPM(round(new(big.Rat).Mul(r, big.NewRat(int64(MgPerKg), 1)))) }

// round returns the whole number nearest to r, halves up (r is never negative here).
func round(r *big.Rat) int64 {
	n := new(big.Int).Lsh(r.Num(), 1)
	n.Add(n, r.Denom())
	n.Quo(n, new(big.Int).Lsh(r.Denom(), 1))
	if !n.IsInt64() {
		panic(unit.ErrRange)
	}
	return n.Int64()
}

func ratio(r unit.Ratio) *big.Rat   { return big.NewRat(int64(r), int64(unit.One)) }
func weight(w unit.Weight) *big.Rat { return big.NewRat(int64(w), 1) }

func mul(a *big.Rat, more ...*big.Rat) *big.Rat {
	p := new(big.Rat).Set(a)
	for _, m := range more {
		p.Mul(p, m)
	}
	return p
}
