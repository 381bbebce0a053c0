package carcass

import "flitchbook/planner/unit"

// Outlet is one way a cut leaves the shop and how much of it goes that way a week.
type Outlet struct {
	Cut   string
	Way   string      // "counter", "sausage", "freezer"
	Week  unit.Weight // a week
	Price unit.Money  // a pound that way
}

// Gone is what one outlet takes of a cut.
type Gone struct {
	Way    string
	Weight unit.Weight
	Money  unit.Money
}

// CutLeft is what an order leaves of one cut and where it goes. Weight is the sum of To
// and Over, to the nanogram.
type CutLeft struct {
	Cut    string
	Weight unit.Weight
	To     []Gone      // in the order the outlets were given
	Over   unit.Weight // no outlet takes it in the time
	Money  unit.Money  // what the outlets bring
	Weeks  int64       // whole weeks all outlets together need for it; 0 = never
}

// Sales is what an order leaves against what the shop can sell.
type Sales struct {
	Cuts   []CutLeft
	Weight unit.Weight
	Over   unit.Weight
	Money  unit.Money
}

// Sell sends each cut down its outlets in the order given, dearest way first as the
// shop lists them, for so many weeks. What no outlet takes is Over: the pounds to find
// a home for before the order is sent.
func Sell(left []Cut, outlets []Outlet, weeks int) Sales {
	var s Sales
	for _, c := range left {
		l := CutLeft{Cut: c.Name, Weight: c.Weight}
		rest := max(c.Weight, 0)
		var week unit.Weight
		for _, o := range outlets {
			if o.Cut != c.Name || o.Week <= 0 {
				continue
			}
			week += o.Week
			take := min(rest, o.Week*unit.Weight(max(weeks, 0)))
			if take == 0 {
				continue
			}
			l.To = append(l.To, Gone{o.Way, take, o.Price.PerPound(take)})
			l.Money += o.Price.PerPound(take)
			rest -= take
		}
		l.Over = c.Weight - (max(c.Weight, 0) - rest)
		if week > 0 {
			l.Weeks = unit.MulDiv(int64(c.Weight), 1, int64(week), unit.Up)
		}
		s.Cuts = append(s.Cuts, l)
		s.Weight, s.Over, s.Money = s.Weight+l.Weight, s.Over+l.Over, s.Money+l.Money
	}
	return s
}

// After is what the outlets can still take in that time once this was sold: their weekly
// weight less what went. It is for a second delivery of the same week.
func (s Sales) After(outlets []Outlet) []Outlet {
	out := append([]Outlet{}, outlets...)
	for i, o := range out {
		for _, c := range s.Cuts {
			for _, g := range c.To {
				if c.Cut == o.Cut && g.Way == o.Way {
					out[i].Week = max(out[i].Week-g.Weight, 0)
				}
			}
		}
	}
	return out
}
