package cure

import (
	"fmt"
	"math/big"

	"flitchbook/planner/unit"
)

// A Lot is one package of curing salt as its label states it. Strengths differ:
// 6.25 % is usual on US labels, an ounce of nitrite to a pound of salt is 5.8824 %,
// all-in-one cures hold 0.6–1 %; so the share always comes from the lot.
type Lot struct {
	ID      string
	Nitrite unit.Ratio // sodium nitrite by weight
	Nitrate unit.Ratio // sodium nitrate by weight; none may go into bacon
}

// A Dose is a weight of curing salt from one lot.
type Dose struct {
	Lot
	Weight unit.Weight
}

// A Slab is one piece of belly before cure.
type Slab struct {
	Tag    string
	Green  unit.Weight // weighed raw, as it lies there
	SkinOn bool
	Skin   unit.Ratio // share of Green that is skin, where it was measured; 0 = not measured
}

// LeastSkin is the share of a skin-on belly that counts as skin unless more was
// measured. Source: FSIS Directive 7620.3 as quoted (about 10 %).
const LeastSkin = 10 * unit.Percent

// describe names the slab for a sentence: "B5-01 (5.62 lb)".
func (s Slab) describe() string {
	if s.Tag == "" {
		return fmt.Sprintf("the slab of %s", s.Green.LB())
	}
	return fmt.Sprintf("%s (%s)", s.Tag, s.Green.LB())
}

// skin is the share of the slab's weight that takes no cure.
func (s Slab) skin(least unit.Ratio) unit.Ratio {
	if !s.SkinOn {
		return 0
	}
	return max(least, s.Skin)
}

// Basis is the weight of the meat under the skin by the rule, rounded half up to a
// nanogram.
func (s Slab) Basis(r SkinRule) unit.Weight { return unit.Weight(s.bare(r.Least).round()) }

// bare is Basis exactly, in nanograms.
func (s Slab) bare(least unit.Ratio) frac {
	return share(whole(int64(s.Green)), unit.One-s.skin(least))
}

func share(of frac, r unit.Ratio) frac { return of.times(int64(r)).over(int64(unit.One)) }

// nitriteOn is the sodium nitrite the doses put into the meat under the skin, in mg/kg.
func nitriteOn(s Slab, least unit.Ratio, doses []Dose) frac {
	sum := whole(0)
	for _, d := range doses {
		sum = sum.plus(whole(int64(d.Weight)).times(int64(d.Nitrite)))
	}
	return onMeat(sum, s, least)
}

func nitrateOf(doses []Dose) frac {
	sum := whole(0)
	for _, d := range doses {
		sum = sum.plus(whole(int64(d.Weight)).times(int64(d.Nitrate)))
	}
	return sum
}

// onMeat is so many nanograms × 10⁶ in the meat under the skin, in mg/kg: the millionths
// of the share, of the skin and of the mg/kg leave one million above.
func onMeat(sum frac, s Slab, least unit.Ratio) frac {
	return sum.times(1_000_000).over(int64(unit.One - s.skin(least))).over(int64(s.Green))
}

// nitriteIn is the sodium nitrite in the doses, exactly, in nanograms.
func nitriteIn(doses []Dose) *big.Rat {
	sum := new(big.Rat)
	for _, d := range doses {
		sum.Add(sum, mul(weight(d.Weight), ratio(d.Nitrite)))
	}
	return sum
}

func nitrateIn(doses []Dose) *big.Rat {
	sum := new(big.Rat)
	for _, d := range doses {
		sum.Add(sum, mul(weight(d.Weight), ratio(d.Nitrate)))
	}
	return sum
}

var million = big.NewRat(1_000_000, 1) // never written to

// per is part ÷ whole in mg/kg, exactly; whole must be above zero.
func per(part, whole *big.Rat) *big.Rat {
	r := new(big.Rat).Quo(part, whole)
	return r.Mul(r, million)
}

// Ingoing is the nitrite the doses put into meat of weight w, which must be above
// zero: Σ mᵢ·fᵢ ÷ w. For a skin-on slab w is its Basis.
func Ingoing(w unit.Weight, doses ...Dose) PPM { return ppmOf(per(nitriteIn(doses), weight(w))) }

// DoseFor is the curing salt of strength f that puts target into meat of weight w,
// rounded down to a nanogram so that it never passes its target. f must be above zero.
func DoseFor(target PPM, w unit.Weight, f unit.Ratio) unit.Weight {
	return unit.Weight(floor(doseFor(target, weight(w), f)))
}

func doseFor(target PPM, w *big.Rat, f unit.Ratio) *big.Rat {
	r := mul(target.rat(), w)
	return r.Quo(r, mul(ratio(f), million))
}

func floor(r *big.Rat) int64 { return new(big.Int).Quo(r.Num(), r.Denom()).Int64() }

// FromMix is the nitrite when part of a ready-made mix is rubbed on: the mix weighs
// total and holds the doses, used of it goes onto meat of weight w.
func FromMix(total, used, w unit.Weight, doses ...Dose) PPM {
	n := mul(nitriteIn(doses), weight(used))
	n.Quo(n, weight(total))
	return ppmOf(per(n, weight(w)))
}

// WeighingError is what half a scale step on the curing salt makes of the nitrite:
// (step ÷ 2)·f ÷ w.
func WeighingError(step, w unit.Weight, f unit.Ratio) PPM {
	return ppmOf(per(halfStep(step, f), weight(w)))
}

func halfStep(step unit.Weight, f unit.Ratio) *big.Rat {
	return mul(weight(step), ratio(f), big.NewRat(1, 2))
}
