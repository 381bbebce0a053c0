package carcass

import (
	"fmt"
	"strings"

	"flitchbook/planner/unit"
)

// Skin says whether the skin stays on a belly.
type Skin int

// A belly is skinless unless somebody chooses otherwise for that belly.
const (
	Skinless Skin = iota
	SkinOn
)

var skinWords = [...]string{Skinless: "skinless", SkinOn: "skin-on"}

func (s Skin) String() string { return skinWords[s] }

// MarshalText writes "skinless" or "skin-on".
func (s Skin) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads what MarshalText writes.
func (s *Skin) UnmarshalText(b []byte) error {
	i, err := word(skinWords[:], b)
	*s = Skin(i)
	return err
}

// Mode is how a belly is cut into slabs.
type Mode int

const (
	// Equal cuts the most equal pieces that stay inside the band; where none do,
	// it falls back to Fixed.
	Equal Mode = iota
	// Fixed cuts pieces of one weight and leaves the remainder.
	Fixed
)

var modeWords = [...]string{Equal: "equal", Fixed: "fixed"}

func (m Mode) String() string { return modeWords[m] }

// MarshalText writes "equal" or "fixed".
func (m Mode) MarshalText() ([]byte, error) { return []byte(m.String()), nil }

// UnmarshalText reads what MarshalText writes.
func (m *Mode) UnmarshalText(b []byte) error {
	i, err := word(modeWords[:], b)
	*m = Mode(i)
	return err
}

func word(words []string, b []byte) (int, error) {
	for i, w := range words {
		if string(b) == w {
			return i, nil
		}
	}
	return 0, &unit.ParseError{Want: `one of "` + strings.Join(words, `", "`) + `"`, Got: string(b)}
}

// SlabRule says how bellies become slabs.
type SlabRule struct {
	Mode     Mode
	Min, Max unit.Weight // the band of Equal, both ends allowed
	Fixed    unit.Weight // the piece of Fixed, and of Equal's fallback
}

// DefaultSlabs is the demo shop's rule: equal pieces of 4.25 to 5.75 lb, else 5.00 lb.
func DefaultSlabs() SlabRule {
	return SlabRule{Equal, unit.Pound * 425 / 100, unit.Pound * 575 / 100, 5 * unit.Pound}
}

// Check lists everything wrong with the rule.
func (r SlabRule) Check() unit.Faults {
	var f unit.Faults
	believable := func(w unit.Weight) bool { return w >= unit.Pound/4 && w <= 100*unit.Pound }
	const words = "a slab must weigh between a quarter of a pound and 100 lb"
	if !believable(r.Fixed) {
		f.Add("fixed", words)
	}
	if r.Mode == Fixed {
		return f
	}
	if !believable(r.Min) {
		f.Add("min", words)
	}
	if !believable(r.Max) {
		f.Add("max", words)
	}
	if r.Min > r.Max {
		f.Add("max", "the heaviest slab is lighter than the lightest")
	}
	return f
}

// Slabs is how one net belly is cut. Count × Each + Left is the net belly exactly:
// in Equal mode Left is what does not divide, less than a nanogram a slab.
type Slabs struct {
	Count int
	Each  unit.Weight // 0 when there are none
	Left  unit.Weight // to lardons or sausage
	Mode  Mode        // how it was really cut: Fixed after a fallback
	Why   string
}

// Cut cuts one net belly. It never looks at another belly.
func (r SlabRule) Cut(net unit.Weight) Slabs {
	if r.Mode == Equal && net > 0 {
		// The largest count has the smallest pieces: if even those are over the
		// band, any smaller count is too.
		if n := int64(net / r.Min); n > 0 && net <= unit.Weight(n)*r.Max {
			each := unit.Weight(unit.MulDiv(int64(net), 1, n, unit.Down))
			return Slabs{int(n), each, net - unit.Weight(n)*each, Equal,
				fmt.Sprintf("%s ÷ %d = %s, inside %s", net.LB(), n, each.LB(), r.band())}
		}
	}
	n := int64(max(net, 0) / r.Fixed)
	s := Slabs{Count: int(n), Left: net - unit.Weight(n)*r.Fixed, Mode: Fixed}
	if n > 0 {
		s.Each = r.Fixed
	}
	cut := fmt.Sprintf("%d × %s, %s over", n, r.Fixed.LB(), s.Left.LB())
	if n == 0 {
		cut = fmt.Sprintf("%s is under one slab of %s", net.LB(), r.Fixed.LB())
	}
	if r.Mode == Equal {
		cut = r.noSplit(net) + ": " + cut
	}
	s.Why = cut
	return s
}

func (r SlabRule) band() string {
	return r.Min.Number(unit.Pound, 2) + "–" + r.Max.LB()
}

// noSplit shows the two counts that straddle the band.
func (r SlabRule) noSplit(net unit.Weight) string {
	n := int64(max(net, 0) / r.Min)
	var tries []string
	if n > 0 {
		tries = append(tries, fmt.Sprintf("%d × %s", n, net.MulDiv(1, n).LB()))
	}
	tries = append(tries, fmt.Sprintf("%d × %s", n+1, net.MulDiv(1, n+1).LB()))
	return fmt.Sprintf("no equal split of %s is inside %s (%s)", net.LB(), r.band(), strings.Join(tries, ", "))
}
