package demand

import (
	"cmp"
	"slices"

	"flitchbook/planner/unit"
)

// Harm is what a way out costs, in the order in which it hurts.
type Harm struct {
	People int        // whose class, date or slab is not what they were told
	Asked  int        // who may say no
	Seats  int        // on sale until now
	Money  unit.Money // given back, credited, spent or not earned
	Rind   int        // guests' slabs that keep the skin on
	Own    int        // slabs of its own the shop goes without
}

// Plus adds two harms.
func (h Harm) Plus(o Harm) Harm {
	return Harm{h.People + o.People, h.Asked + o.Asked, h.Seats + o.Seats, h.Money + o.Money, h.Rind + o.Rind, h.Own + o.Own}
}

// Compare orders harms, the lesser first: what is done to people weighs more than any
// money.
func (h Harm) Compare(o Harm) int {
	return cmp.Or(cmp.Compare(h.People, o.People), cmp.Compare(h.Asked, o.Asked), cmp.Compare(h.Seats, o.Seats),
		cmp.Compare(h.Money, o.Money), cmp.Compare(h.Rind, o.Rind), cmp.Compare(h.Own, o.Own))
}

// Option is a way out that surely gives so many slabs.
type Option struct {
	Name string
	Gain int
	Harm Harm
	// Rank breaks ties between equal harms, the lower first: the order the house lists
	// its remedies in.
	Rank int
	// Not names options that cannot go together with it.
	Not []string
}

// WayPlan is options that together close a gap, none of them without need.
type WayPlan struct {
	Options []Option // in the order given
	Gain    int
	Harm    Harm
}

// mostOptions bounds the search: beyond it the most harmful options are left out.
const mostOptions = 16

// Plans lists every set of options that closes a gap and has none to spare, the least
// harm first, then the fewest steps, then the house's order; at most so many.
func Plans(short int, options []Option, most int) []WayPlan {
	if short <= 0 {
		return nil
	}
	var use []Option
	for _, o := range options {
		if o.Gain > 0 {
			use = append(use, o)
		}
	}
	if len(use) > mostOptions {
		mild := slices.Clone(use)
		slices.SortStableFunc(mild, func(a, b Option) int { return a.Harm.Compare(b.Harm) })
		mild = mild[:mostOptions]
		use = slices.DeleteFunc(use, func(o Option) bool {
			return !slices.ContainsFunc(mild, func(m Option) bool { return m.Name == o.Name })
		})
	}
	var plans []WayPlan
	for set := 1; set < 1<<len(use); set++ {
		if p, ok := planOf(set, use, short); ok {
			plans = append(plans, p)
		}
	}
	slices.SortStableFunc(plans, func(a, b WayPlan) int {
		return cmp.Or(a.Harm.Compare(b.Harm), cmp.Compare(len(a.Options), len(b.Options)), slices.CompareFunc(a.Options, b.Options, func(x, y Option) int { return cmp.Compare(x.Rank, y.Rank) }))
	})
	return plans[:min(most, len(plans))]
}

// planOf is the set as a plan, if it closes the gap and would not without any of its
// options.
func planOf(set int, use []Option, short int) (WayPlan, bool) {
	var p WayPlan
	least := 0
	for i, o := range use {
		if set&(1<<i) == 0 {
			continue
		}
		p.Options, p.Gain, p.Harm = append(p.Options, o), p.Gain+o.Gain, p.Harm.Plus(o.Harm)
		if least == 0 || o.Gain < least {
			least = o.Gain
		}
	}
	if p.Gain < short || p.Gain-least >= short {
		return p, false
	}
	for _, o := range p.Options {
		for _, not := range o.Not {
			if slices.ContainsFunc(p.Options, func(q Option) bool { return q.Name == not }) {
				return p, false
			}
		}
	}
	return p, true
}
