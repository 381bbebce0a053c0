package cure

import (
	"math/big"

	"flitchbook/planner/unit"
)

// A Loss is a share of the weight that a piece loses at one stage, in what it has come
// to by then.
type Loss struct {
	Stage string
	Share unit.Ratio
}

// UsualLosses is what is lost on the way of a slab, low and high: drip in the bag (common
// practice), smokehouse and chill (common practice), trim and ends at slicing (common
// practice). Whole ways of 12 to 19 % are told in forums, read where quoted. A shop's own
// weighings are better.
func UsualLosses() (low, high []Loss) {
	const p = unit.Percent
	return []Loss{{"in cure", 2 * p}, {"smoke and chill", 8 * p}, {"trim", 4 * p}},
		[]Loss{{"in cure", 5 * p}, {"smoke and chill", 12 * p}, {"trim", 7 * p}}
}

// Lessen is the weight after each loss, and what is kept of the first in all; exact
// until shown.
func Lessen(green unit.Weight, losses ...Loss) (after []unit.Weight, kept unit.Ratio, err error) {
	share, err := keptOf(losses)
	if err != nil {
		return nil, 0, err
	}
	if green <= 0 {
		return nil, 0, refuse("a piece of %s has nothing to lose", green.G(0))
	}
	w := weight(green)
	for _, l := range losses {
		w = mul(w, ratio(unit.One-l.Share))
		after = append(after, weightOf(w))
	}
	return after, unit.Ratio(round(mul(share, million))), nil
}

// GreenFor is the green weight that comes to at least wanted when the share kept of it is
// left, to a nanogram.
func GreenFor(wanted unit.Weight, kept unit.Ratio) (unit.Weight, error) {
	if wanted <= 0 || kept <= 0 || kept > unit.One {
		return 0, refuse("%s cannot be what is left of a piece that keeps %s", wanted.LB(), kept)
	}
	return unit.Weight(unit.MulDiv(int64(wanted), int64(unit.One), int64(kept), unit.Up)), nil
}

func keptOf(losses []Loss) (*big.Rat, error) {
	share := big.NewRat(1, 1)
	for _, l := range losses {
		if l.Share < 0 || l.Share >= unit.One {
			return nil, refuse("%s: a piece cannot lose %s", l.Stage, l.Share)
		}
		share = mul(share, ratio(unit.One-l.Share))
	}
	return share, nil
}

// PouredOff is the salt left when purge holding a share of salt is poured out of a bag
// early, by itself and of the drained piece. It is why a sealed bag keeps its liquid.
func PouredOff(green unit.Weight, salt unit.Ratio, purge unit.Weight, purgeSalt unit.Ratio) (left unit.Weight, share unit.Ratio, err error) {
	l := mul(weight(green), ratio(salt))
	l.Sub(l, mul(weight(purge), ratio(purgeSalt)))
	if green <= 0 || purge < 0 || purge >= green || salt < 0 || salt > unit.One || purgeSalt < 0 || purgeSalt > unit.One || l.Sign() < 0 {
		return 0, 0, refuse("%s of purge with %s of salt cannot come from %s with %s", purge.G(0), purgeSalt, green.G(0), salt)
	}
	of := new(big.Rat).Quo(l, weight(green-purge))
	return weightOf(l), unit.Ratio(round(mul(of, million))), nil
}
