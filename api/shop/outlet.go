package shop

import (
	"flitchbook/planner/carcass"
	"flitchbook/planner/unit"
)

// The ways a cut leaves the shop, dearest first.
const (
	AtCounter = "counter"
	ToSausage = "sausage"
	ToFreezer = "freezer"
)

// OutletWays lists them in the order they are filled.
var OutletWays = [...]string{AtCounter, ToSausage, ToFreezer}

// Outlet is how much of a cut goes one way in a week, and what a pound fetches there.
// It is the owner's own estimate.
type Outlet struct {
	ID      int64       `json:"-"`
	Species string      `json:"species"`
	Cut     string      `json:"cut"`
	Way     string      `json:"way"`
	Week    unit.Weight `json:"week"`
	Price   unit.Money  `json:"price"`
}

// TableName of the record.
func (Outlet) TableName() string { return "outlets" }

// mostWeek bounds what a shop of this size sells of one cut in a week.
const mostWeek = 5000 * unit.Pound

// Check lists everything wrong with an outlet.
func (o Outlet) Check() error {
	var w Wrong
	if o.Species == "" || o.Cut == "" {
		w.Add("cut", "An outlet needs its animal and cut.")
	}
	known := false
	for _, way := range OutletWays {
		known = known || way == o.Way
	}
	if !known {
		w.Add("way", "A cut goes over the counter, to sausage or to the freezer.")
	}
	if o.Week < 0 || o.Week > mostWeek {
		w.Add("week", "Between 0 and %s a week.", mostWeek.LB())
	}
	if o.Price < 0 || o.Price > 1000_00 {
		w.Add("price", "Between $0.00 and $1000.00 a pound.")
	}
	return w.Err()
}

// OutletsFor are the outlets of an animal as planner/carcass fills them.
func OutletsFor(species string, all []Outlet) []carcass.Outlet {
	var out []carcass.Outlet
	for _, way := range OutletWays {
		for _, o := range all {
			if o.Species == species && o.Way == way {
				out = append(out, carcass.Outlet{Cut: o.Cut, Way: o.Way, Week: o.Week, Price: o.Price})
			}
		}
	}
	return out
}
