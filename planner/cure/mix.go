package cure

import (
	"math/big"

	"flitchbook/planner/unit"
)

// A Base says what a recipe's shares are shares of.
type Base string

// The bases: the meat; the finished mix of meat, salt, sugar and nitrite, spices
// left out; meat and water together, in which a brine evens out.
const (
	OnMeat  Base = "meat"
	OnTotal Base = "total"
	OnBrine Base = "brine"
)

// A Mix is a recipe by total salt: the salt inside the curing salt counts.
type Mix struct {
	Meat   unit.Weight // under the skin
	Water  unit.Weight // OnBrine only
	Base   Base
	Salt   unit.Ratio // all salt
	Sugar  unit.Ratio
	Target PPM // sodium nitrite on the meat, or on meat and water for OnBrine
	Lot    Lot
}

// Amounts is what a Mix weighs out to, to a nanogram. Sum a class from these and
// round the sum, not the other way about.
type Amounts struct {
	CuringSalt unit.Weight
	PlainSalt  unit.Weight
	Sugar      unit.Weight
	Whole      unit.Weight // what the shares are shares of
}

// Amounts reckons the mix. It refuses figures that make no mix, and one whose
// curing salt already holds more salt than the recipe wants, as an all-in-one cure
// can.
func (m Mix) Amounts() (Amounts, error) {
	switch {
	case m.Meat <= 0:
		return Amounts{}, refuse("the meat has no weight (%s)", m.Meat.G(0))
	case m.Water < 0 || (m.Water > 0) != (m.Base == OnBrine):
		return Amounts{}, refuse("%s of water does not go with the base %q", m.Water.G(0), m.Base)
	case m.Salt < 0 || m.Sugar < 0 || m.Salt+m.Sugar >= unit.One:
		return Amounts{}, refuse("salt of %s and sugar of %s make no recipe", m.Salt, m.Sugar)
	case m.Lot.Nitrite <= 0 || m.Lot.Nitrate < 0 || m.Lot.Nitrite+m.Lot.Nitrate > unit.One:
		return Amounts{}, refuse("curing salt cannot hold %s nitrite and %s nitrate", m.Lot.Nitrite, m.Lot.Nitrate)
	case m.Target < 0:
		return Amounts{}, refuse("nitrite cannot be %s", m.Target)
	}
	w := weight(m.Meat + m.Water)
	cure := doseFor(m.Target, w, m.Lot.Nitrite)
	whole := w
	switch m.Base {
	case OnMeat, OnBrine:
	case OnTotal:
		// T = W + T·salt + T·sugar + f·cure, and plain salt takes up the rest.
		whole = new(big.Rat).Add(w, mul(cure, ratio(m.Lot.Nitrite+m.Lot.Nitrate)))
		whole.Quo(whole, ratio(unit.One-m.Salt-m.Sugar))
	default:
		return Amounts{}, refuse("%q is no base: meat, total or brine", m.Base)
	}
	inCure := mul(cure, ratio(unit.One-m.Lot.Nitrite-m.Lot.Nitrate))
	plain := mul(whole, ratio(m.Salt))
	plain.Sub(plain, inCure)
	if plain.Sign() < 0 {
		return Amounts{}, refuse("the curing salt alone brings %s of salt and the recipe wants %s: choose a stronger curing salt or more salt",
			weightOf(inCure).G(1), weightOf(mul(whole, ratio(m.Salt))).G(1))
	}
	return Amounts{
		CuringSalt: unit.Weight(floor(cure)),
		PlainSalt:  weightOf(plain),
		Sugar:      weightOf(mul(whole, ratio(m.Sugar))),
		Whole:      weightOf(whole),
	}, nil
}
