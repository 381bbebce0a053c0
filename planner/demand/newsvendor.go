package demand

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Stake is what a unit too few and a unit too many cost, in one currency: cents for the
// shop.
type Stake struct {
	Short float64 // margin lost a unit short
	Over  float64 // cost − what it still fetches, a unit left
}

// ErrNoFractile says that a unit left over costs nothing, or even earns: then there is
// no best quantity but what the cooler and the shop can take.
var ErrNoFractile = errors.New("what is left sells for its cost or more: order what the cooler and the counter can take")

// StakeOf makes a stake from price, cost and salvage of a unit.
func StakeOf(price, cost, salvage float64) Stake { return Stake{price - cost, cost - salvage} }

// Critical is the critical ratio Short ÷ (Short + Over): the chance of having enough
// that is worth paying for. It returns ErrNoFractile when Over is nothing or below.
func (s Stake) Critical() (float64, error) {
	switch {
	case s.Over <= 0:
		return 0, ErrNoFractile
	case s.Short <= 0:
		return 0, fmt.Errorf("a unit short loses nothing: order none")
	}
	return s.Short / (s.Short + s.Over), nil
}

// Normal is a demand with a mean and a spread.
type Normal struct{ Mean, SD float64 }

// Quantity is the quantity that meets demand with the given chance: μ + z·σ.
func (n Normal) Quantity(chance float64) float64 { return n.Mean + Z(chance)*n.SD }

// Lost is the demand on average not met by q: σ·(φ(z) − z·(1 − Φ(z))).
func (n Normal) Lost(q float64) float64 {
	if n.SD <= 0 {
		return max(n.Mean-q, 0)
	}
	z := (q - n.Mean) / n.SD
	return n.SD * (math.Exp(-z*z/2)/math.Sqrt(2*math.Pi) - z*math.Erfc(z/math.Sqrt2)/2)
}

// Profit is the profit on average of q: margin on what is sold less loss on what is left.
func (n Normal) Profit(q float64, s Stake) float64 {
	lost := n.Lost(q)
	return s.Short*(n.Mean-lost) - s.Over*(q-n.Mean+lost)
}

// Uniform is a demand anywhere between two ends with the same chance.
type Uniform struct{ Low, High float64 }

// Quantity is the quantity that meets demand with the given chance.
func (u Uniform) Quantity(chance float64) float64 { return u.Low + chance*(u.High-u.Low) }

// Z is the standard normal quantile of a chance between 0 and 1.
func Z(chance float64) float64 { return math.Sqrt2 * math.Erfinv(2*chance-1) }

// Chance is one demand and how likely it is.
type Chance struct {
	Units int
	P     float64
}

// Discrete is a demand in whole units, such as halves.
type Discrete []Chance

// Check says what is wrong with the distribution.
func (d Discrete) Check() error {
	if len(d) == 0 || len(d) > biggest {
		return fmt.Errorf("name between 1 and %d demands and their chances", biggest)
	}
	var sum float64
	for _, c := range d {
		if c.P < 0 || c.P > 1 || math.IsNaN(c.P) || c.Units < 0 || c.Units > 10*biggest {
			return fmt.Errorf("a demand of %d with a chance of %v is not believed", c.Units, c.P)
		}
		sum += c.P
	}
	if math.Abs(sum-1) > 1e-6 {
		return fmt.Errorf("the chances add up to %.4f, not to 1", sum)
	}
	return nil
}

// Quantity is the smallest quantity that meets demand with at least the given chance.
func (d Discrete) Quantity(chance float64) int {
	sorted := slices.Clone(d)
	slices.SortFunc(sorted, func(a, b Chance) int { return a.Units - b.Units })
	var sum float64
	for _, c := range sorted {
		if sum += c.P; sum >= chance-1e-12 {
			return c.Units
		}
	}
	return sorted[len(sorted)-1].Units
}

// Cost is what a quantity costs on average in margins missed and units left.
func (d Discrete) Cost(q int, s Stake) float64 {
	var sum float64
	for _, c := range d {
		short, over := float64(max(c.Units-q, 0)), float64(max(q-c.Units, 0))
		sum += c.P * (short*s.Short + over*s.Over)
	}
	return sum
}

// Tried is one quantity and its cost.
type Tried struct {
	Units int
	Cost  float64
}

// BestUnits tries every multiple of step from 0 up to most and returns them all with
// the cheapest; equal costs go to the smaller. Whole animals are step 2 of halves: the
// quantity is searched by cost, since a fractile rounded to whole animals may be the
// dearer neighbour. most 0 is the largest demand, rounded up to a step.
func (d Discrete) BestUnits(s Stake, step, most int) (best Tried, all []Tried, err error) {
	if err := d.Check(); err != nil {
		return Tried{}, nil, err
	}
	if step < 1 {
		step = 1
	}
	if most == 0 {
		for _, c := range d {
			most = max(most, c.Units)
		}
		most = ceil(most, step) * step
	}
	if most < 0 || most > 10*biggest {
		return Tried{}, nil, fmt.Errorf("a cap of %d is not believed", most)
	}
	best.Cost = math.Inf(1)
	for q := 0; q <= most; q += step {
		t := Tried{q, d.Cost(q, s)}
		all = append(all, t)
		if t.Cost < best.Cost-1e-9 {
			best = t
		}
	}
	return best, all, nil
}
