package demand

import (
	"fmt"
	"slices"
	"time"

	"flitchbook/planner/unit"
)

// GoSheet is what a person should know before saying go or call off at the order-by of a
// class's animals. It never says which: under the minimum that is a person's word (house
// rule R10).
type GoSheet struct {
	Code             string
	Sold, Seats, Min int
	Missing          int // seats under the minimum; 0 when it is reached
	Expect           Forecast

	Animals int    // the order with the class, every class full
	Without int    // the same without it
	Slabs   int    // the order's animals give
	Spoken  int    // for, by the seats sold now, of every class it feeds
	House   int    // left of them for house bacon if the class goes ahead as it stands
	Fewer   int    // animals the order could be smaller by without it, while it can still be changed
	Homes   []Home // of what the class would leave if it does not fill, or is called off
}

// Home says where meat goes that guests do not take. Good is false where there is no
// other home: a dinner cannot be sold again.
type Home struct {
	Good bool
	Text string
}

// Go makes the sheet of one class out of the order that feeds it. fewest is the class's
// minimum, ordered the animals the order stands at; 0 takes what it needs with every
// class full.
func Go(in Input, code string, fewest, ordered int, expect Forecast) (GoSheet, error) {
	i := slices.IndexFunc(in.Classes, func(c Class) bool { return c.Code == code })
	if i < 0 {
		return GoSheet{}, fmt.Errorf("class %s is not fed by this order", code)
	}
	c := in.Classes[i]
	with, err := Order(in)
	if err != nil {
		return GoSheet{}, err
	}
	rest := in
	rest.Classes = slices.Delete(slices.Clone(in.Classes), i, i+1)
	without, err := Order(rest)
	if err != nil {
		return GoSheet{}, err
	}
	if ordered <= 0 {
		ordered = with.Full.Animals
	}
	g := GoSheet{Code: code, Sold: c.Seats.Sold, Seats: c.Seats.Full, Min: fewest, Missing: max(fewest-c.Seats.Sold, 0), Expect: expect,
		Animals: ordered, Without: without.Full.Animals, Spoken: with.Sold.Slabs}
	if with.Full.PerBelly > 0 && in.Profile.Belly > 0 {
		g.Slabs = (2*ordered - in.homeBellies()) * with.Full.PerBelly
	}
	g.House, g.Fewer = max(g.Slabs-g.Spoken, 0), max(g.Animals-g.Without, 0)
	g.Homes = in.homes(c, g)
	return g, nil
}

// homeBellies is how many bellies no slab can come of: taken home, or cut away with a
// hindquarter's flank.
func (in Input) homeBellies() int {
	n := 0
	for _, c := range in.Classes {
		if c.Unit == Belly || c.Seats.Sold == 0 {
			continue
		}
		sides := ceil(c.Seats.Sold, c.PerUnit)
		switch {
		case c.Unit == Hindquarter:
			n += sides
		case c.Unit == Whole && c.BellyHome:
			n += 2 * sides
		case c.BellyHome:
			n += sides
		}
	}
	return n
}

func (in Input) homes(c Class, g GoSheet) []Home {
	var h []Home
	switch c.Unit {
	case Belly:
		h = append(h, Home{true, fmt.Sprintf("bellies have another home: %s to house bacon", count(g.House, "slab"))})
	case Half, Whole, Hindquarter:
		side := in.Profile.Forecast().Side
		units := max(ceil(max(c.Seats.Sold, 1), max(c.PerUnit, 1)), 1)
		whole := side * unit.Weight(units)
		if c.Unit == Whole {
			whole *= 2
		}
		if c.Unit == Hindquarter {
			h = append(h, Home{true, fmt.Sprintf("%s: to hang on and sell over the counter", count(units, c.Unit.String()))})
		} else {
			h = append(h, Home{true, fmt.Sprintf("%s of %s: to cut and sell over the counter", count(units, c.Unit.String()), whole.LB())})
		}
		h = append(h, Home{false, "the dinner has no other home"})
	}
	return h
}

// Reached says whether the minimum is reached.
func (g GoSheet) Reached() bool { return g.Missing == 0 }

// OutBy is the latest moment a frozen piece may leave the freezer to be thawed by start,
// at 24 h for every started step of per; 0 takes 5 lb.
func OutBy(start unit.Instant, piece, per unit.Weight) unit.Instant {
	if per <= 0 {
		per = 5 * unit.Pound
	}
	return start.Add(-time.Duration(ThawSteps(piece, per)) * 24 * time.Hour)
}
