package cure

import (
	"fmt"
	"math/bits"

	"flitchbook/planner/unit"
)

// Check reckons the ticket's decision again with whole numbers only and reports
// the first thing that does not hold. It shares no arithmetic with NewTicket; run
// it before a ticket is stored or printed.
func (t Ticket) Check() error {
	l, s := t.Recipe.Limit, t.Slab
	skin := unit.Ratio(0)
	if s.SkinOn {
		skin = max(l.SkinRule.Least, s.Skin)
	}
	if s.Green <= 0 || skin < 0 || skin >= unit.One {
		return fmt.Errorf("ticket %s: a slab of %s with %s skin", s.Tag, s.Green.LB(), skin)
	}
	meat := wide{uint64(s.Green)}.times(uint64(unit.One - skin)) // nanograms × 10⁶
	var sum unit.Weight
	var nitrite, nitrate uint64 // nanograms × 10⁶
	for _, p := range t.Parts {
		if p.Weight <= 0 || p.Weight%CureStep != 0 {
			return fmt.Errorf("ticket %s: lot %q gives %s, which is no step of 0.1 g", s.Tag, p.ID, p.Weight.G(3))
		}
		n, ok1 := product(uint64(p.Weight), uint64(p.Nitrite))
		m, ok2 := product(uint64(p.Weight), uint64(p.Nitrate))
		if !ok1 || !ok2 {
			return fmt.Errorf("ticket %s: %w", s.Tag, unit.ErrRange)
		}
		sum, nitrite, nitrate = sum+p.Weight, nitrite+n, nitrate+m
	}
	if sum != t.CuringSalt {
		return fmt.Errorf("ticket %s: lots add up to %s, not %s", s.Tag, sum.G(1), t.CuringSalt.G(1))
	}
	if nitrate > 0 && l.Nitrate == 0 {
		return fmt.Errorf("ticket %s: nitrate in %s", s.Tag, l.Product)
	}
	// nitrite·10⁹·counted : meat·sodium nitrite against the limit in thousandths of a ppm.
	counted, _ := l.Counted.molar()
	left := wide{nitrite}.times(1_000_000_000).times(uint64(counted))
	right := func(p PPM) wide { return meat.times(uint64(p)).times(molarNaNO2) }
	if left.over(right(l.Max)) {
		return fmt.Errorf("ticket %s: %s of curing salt is over the limit of %s", s.Tag, t.CuringSalt.G(1), l.Max)
	}
	if right(l.Floor).over(left) {
		return fmt.Errorf("ticket %s: %s of curing salt is under the floor of %s", s.Tag, t.CuringSalt.G(1), l.Floor)
	}
	for _, d := range []struct {
		what  string
		got   unit.Weight
		base  wide // nanograms × 10⁶
		share unit.Ratio
		step  unit.Weight
	}{
		{"salt", t.Salt, meat, t.Recipe.Salt, GoodsStep},
		{"sugar", t.Sugar, meat, t.Recipe.Sugar, GoodsStep},
		{"curing salt", t.CuringSalt, meat, t.Recipe.CuringSalt, CureStep},
		{"spice", t.Spice, wide{uint64(s.Green)}.times(1_000_000), t.Jar.Rate, GoodsStep},
	} {
		// Halves up: got − step/2 ≤ want < got + step/2, all × 2 × 10¹².
		if d.got < 0 || d.got%d.step != 0 || d.share < 0 {
			return fmt.Errorf("ticket %s: %s of %s is no step of the scale", s.Tag, d.what, d.got.G(3))
		}
		want := d.base.times(uint64(d.share)).times(2)
		high := wide{uint64(2*d.got + d.step)}.times(1_000_000_000_000)
		low := wide{uint64(max(0, 2*d.got-d.step))}.times(1_000_000_000_000)
		if low.over(want) || !high.over(want) {
			return fmt.Errorf("ticket %s: %s of %s is not the recipe's share", s.Tag, d.got.G(1), d.what)
		}
	}
	if t.Verdict.Answer == Block || len(t.Verdict.Reasons) == 0 {
		return fmt.Errorf("ticket %s: its verdict is %q without leave", s.Tag, t.Verdict.Answer)
	}
	return nil
}

func product(a, b uint64) (uint64, bool) {
	hi, lo := bits.Mul64(a, b)
	return lo, hi == 0
}

// wide is an unsigned whole number of 256 bits, least significant word first.
type wide [4]uint64

// times multiplies by m. Nothing here needs more than 170 bits: a weight, a share,
// a limit and a molar mass.
func (w wide) times(m uint64) wide {
	var out wide
	var carry uint64
	for i := range w {
		hi, lo := bits.Mul64(w[i], m)
		var c uint64
		out[i], c = bits.Add64(lo, carry, 0)
		carry = hi + c
	}
	return out
}

// over says whether w > o.
func (w wide) over(o wide) bool {
	for i := len(w) - 1; i >= 0; i-- {
		if w[i] != o[i] {
			return w[i] > o[i]
		}
	}
	return false
}
