package carcass

import (
	"fmt"
	"math/big"

	"flitchbook/planner/unit"
)

// CuttingTest is a butcher's yield test: a piece bought, taken apart and weighed.
type CuttingTest struct {
	Name    string
	Bought  unit.Weight // as bought
	Price   unit.Money  // a pound, as bought
	Parts   []TestPart  // by-products, valued at what they would cost to buy in
	Usable  unit.Weight // the primary part, the reason for buying
	Cooked  unit.Weight // usable out of the oven; 0 = not cooked
	Carving unit.Weight // bone and trim taken off after cooking
	Portion unit.Weight // 0 = none
}

// TestPart is a by-product. One without a price is worth nothing.
type TestPart struct {
	Name   string
	Weight unit.Weight
	Price  unit.Money // a pound
}

// Cents100 is money in hundredths of a cent, for the price of an ounce.
type Cents100 int64

// String writes "$0.3223".
func (c Cents100) String() string {
	sign := ""
	if c < 0 {
		sign, c = "-", -c
	}
	return fmt.Sprintf("%s$%d.%04d", sign, c/10_000, c%10_000)
}

// CuttingResult is what a cutting test says. Money is rounded half up to the cent from
// exact figures; nothing is reckoned on from a rounded figure.
type CuttingResult struct {
	Cost         unit.Money  // of the whole piece as bought
	Secondary    unit.Money  // by-products at their own prices
	Net          unit.Money  // of the primary part: may be nothing or less, and is shown so
	Parts        unit.Weight // weighed by-products
	Loss         unit.Weight // in cutting: bought − everything weighed; never typed
	Usable       unit.Weight
	Saleable     unit.Weight // usable, or what is left of it after oven and carving
	Yield        unit.Ratio  // saleable of bought
	CookingLoss  unit.Weight // usable − out of the oven
	CookingShare unit.Ratio
	PerPound     unit.Money
	PerOunce     Cents100
	Factor       unit.Ratio // cost of a saleable pound ÷ price as bought
	PortionCost  unit.Money // 0 without a portion
	PortionFact  unit.Ratio
	Notes        []string

	net, pound *big.Rat // cents; exact
	test       CuttingTest
}

// Bounds of what a cutting test may hold: more is a slip of the hand.
const (
	dearest   = unit.Money(10_000_00) // a pound
	mostParts = 60
)

// Check lists everything wrong with what was typed.
func (t CuttingTest) Check() unit.Faults {
	var f unit.Faults
	between := func(field string, w, least, most unit.Weight, words string) {
		if w < least || w > most {
			f.Add(field, words)
		}
	}
	between("bought", t.Bought, 1, heaviest, "what was bought weighs more than nothing and at most "+heaviest.LB())
	if t.Price < 0 || t.Price > dearest {
		f.Add("price", "a price a pound lies between $0.00 and "+dearest.String())
	}
	if len(t.Parts) > mostParts {
		f.Add("parts", fmt.Sprintf("at most %d parts", mostParts))
		return f
	}
	sum := max(t.Usable, 0)
	for i, p := range t.Parts {
		at := fmt.Sprintf("parts[%d]", i)
		if p.Name == "" {
			f.Add(at+".name", "a part needs a name")
		}
		between(at+".weight", p.Weight, 0, heaviest, "a part weighs nothing or more")
		if p.Price < 0 || p.Price > dearest {
			f.Add(at+".price", "a price a pound lies between $0.00 and "+dearest.String())
		}
		sum += max(p.Weight, 0)
	}
	switch {
	case t.Usable <= 0:
		f.Add("usable", "nothing usable is left: there is no cost of a usable pound")
	case t.Bought > 0 && sum > t.Bought:
		f.Add("usable", fmt.Sprintf("weighed more than bought: %s of %s", sum.LB(), t.Bought.LB()))
	}
	between("portion", t.Portion, 0, 20*unit.Pound, "a portion weighs nothing to 20.00 lb")
	switch {
	case t.Cooked == 0 && t.Carving == 0:
	case t.Cooked <= 0 || t.Cooked > t.Usable:
		f.Add("cooked", "cooked meat weighs more than nothing and no more than it did raw")
	case t.Carving < 0 || t.Carving >= t.Cooked:
		f.Add("carving", "what is carved off weighs less than the joint")
	}
	return f
}

// Reckon works the test out. It returns unit.Faults for a wrong input. Where the
// by-products are worth more than the piece cost, the net cost is nothing or less; that
// is shown with a note and not clamped.
func (t CuttingTest) Reckon() (CuttingResult, error) {
	if err := t.Check().Err(); err != nil {
		return CuttingResult{}, err
	}
	r := CuttingResult{Usable: t.Usable, Saleable: t.Usable, test: t}
	cost, secondary := centsOf(t.Price, t.Bought), new(big.Rat)
	for _, p := range t.Parts {
		secondary.Add(secondary, centsOf(p.Price, p.Weight))
		r.Parts += p.Weight
	}
	r.Loss = t.Bought - r.Parts - t.Usable
	if t.Cooked > 0 {
		r.Saleable = t.Cooked - t.Carving
		r.CookingLoss = t.Usable - t.Cooked
		r.CookingShare = r.CookingLoss.RatioOf(t.Usable)
	}
	r.net = new(big.Rat).Sub(cost, secondary)
	r.pound = new(big.Rat).Quo(r.net, pounds(r.Saleable))
	r.Cost, r.Secondary, r.Net = cents(cost), cents(secondary), cents(r.net)
	r.Yield = r.Saleable.RatioOf(t.Bought)
	r.PerPound = cents(r.pound)
	r.PerOunce = Cents100(half(new(big.Rat).Mul(r.pound, big.NewRat(100, 16))))
	if t.Price > 0 {
		r.Factor = ratio(new(big.Rat).Quo(r.pound, cent(t.Price)))
	}
	if t.Portion > 0 {
		portion := new(big.Rat).Mul(r.pound, pounds(t.Portion))
		r.PortionCost = cents(portion)
		if t.Price > 0 {
			r.PortionFact = ratio(portion.Quo(portion, cent(t.Price)))
		}
	}
	if r.net.Sign() <= 0 {
		r.Notes = append(r.Notes, "the by-products are worth as much as the piece cost or more: the primary part costs nothing or less")
	}
	if r.Loss > t.Bought.Share(2*unit.Percent) {
		r.Notes = append(r.Notes, fmt.Sprintf("%s of %s was not weighed: more than 2 %%, look for what is missing", r.Loss.LB(), t.Bought.LB()))
	}
	return r, nil
}

// At is the cost of a saleable pound and of a portion when the price as bought becomes
// price, taking the prices of the by-products to move with it.
func (r CuttingResult) At(price unit.Money) (pound, portion unit.Money) {
	if r.test.Price <= 0 {
		return 0, 0
	}
	p := new(big.Rat).Mul(r.pound, cent(price))
	p.Quo(p, cent(r.test.Price))
	return cents(p), cents(new(big.Rat).Mul(p, pounds(r.test.Portion)))
}

// ToBuy is the weight to buy for so many portions of a size:
//
//	portions × size ÷ yield
func (r CuttingResult) ToBuy(portions int, size unit.Weight) unit.Weight {
	return unit.Weight(unit.MulDiv(int64(size)*int64(portions), int64(r.test.Bought), int64(r.Saleable), unit.HalfUp))
}

func cent(m unit.Money) *big.Rat    { return new(big.Rat).SetInt64(int64(m)) }
func pounds(w unit.Weight) *big.Rat { return big.NewRat(int64(w), int64(unit.Pound)) }

func centsOf(perPound unit.Money, w unit.Weight) *big.Rat {
	return new(big.Rat).Mul(cent(perPound), pounds(w))
}

func cents(r *big.Rat) unit.Money { return unit.Money(half(r)) }

func ratio(r *big.Rat) unit.Ratio {
	return unit.Ratio(half(new(big.Rat).Mul(r, big.NewRat(int64(unit.One), 1))))
}

// half rounds to a whole, halves away from zero.
func half(r *big.Rat) int64 {
	num, den := new(big.Int).Abs(r.Num()), r.Denom()
	num.Lsh(num, 1).Add(num, den)
	num.Quo(num, new(big.Int).Lsh(den, 1))
	if r.Sign() < 0 {
		num.Neg(num)
	}
	return num.Int64()
}
