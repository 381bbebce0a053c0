package carcass

import (
	"fmt"

	"flitchbook/planner/unit"
)

// CutCost is one cut's part in the cost of an animal.
type CutCost struct {
	Cut    string
	Weight unit.Weight
	List   unit.Money // a pound over the counter
	Value  unit.Money // of the cut by the list
	Cost   unit.Money // its part of the animal's cost
	Pound  unit.Money // cost of a pound
}

// CostShare is an animal's cost shared by value over its cuts.
type CostShare struct {
	Cost, Value unit.Money
	Factor      unit.Ratio // cost ÷ value: under 100 % the list leaves a margin
	Cuts        []CutCost
}

// ShareCost shares what an animal cost over its cuts in proportion to what each sells
// for, so that a belly bears its part and does not "come free with the pig". The parts
// add up to the cost to the cent, by largest remainder. list gives the price of a pound.
// It is an error when nothing of it has a price.
//
// Sharing joint costs by sales value is common practice in bookkeeping.
func ShareCost(cost unit.Money, cuts []Cut, list func(cut string) unit.Money) (CostShare, error) {
	s := CostShare{Cost: cost}
	shares := make([]int64, len(cuts))
	var sum int64
	for i, c := range cuts {
		price := list(c.Name)
		if price < 0 || c.Weight < 0 {
			return s, fmt.Errorf("%s has a price or weight below zero", c.Name)
		}
		// Value in millionths of a cent: fine enough that no cut's part moves by a cent.
		shares[i] = unit.MulDiv(int64(c.Weight), int64(price)*1_000_000, int64(unit.Pound), unit.HalfUp)
		sum += shares[i]
		s.Cuts = append(s.Cuts, CutCost{Cut: c.Name, Weight: c.Weight, List: price, Value: price.PerPound(c.Weight)})
	}
	if sum == 0 {
		return s, fmt.Errorf("none of the cuts has a price on the value list")
	}
	s.Value = unit.Money(unit.MulDiv(sum, 1, 1_000_000, unit.HalfUp))
	s.Factor = unit.Ratio(unit.MulDiv(int64(cost)*1_000_000, int64(unit.One), sum, unit.HalfUp))
	for i, part := range unit.Split(cost, shares) {
		s.Cuts[i].Cost = part
		s.Cuts[i].Pound = s.Cuts[i].List.Share(s.Factor)
	}
	return s, nil
}

// Whole lists every cut of an animal of the profile's usual weight, both sides
// together, the belly first under the name "belly".
func (p Profile) Whole() []Cut {
	side := p.Break(p.Forecast().Side)
	cuts := []Cut{{"belly", 2 * side.Belly}}
	if side.Belly == 0 {
		cuts = nil
	}
	for _, c := range side.Cuts {
		cuts = append(cuts, Cut{c.Name, 2 * c.Weight})
	}
	return cuts
}
