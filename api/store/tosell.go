package store

import (
	"fmt"
	"strings"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/carcass"
	"flitchbook/planner/unit"
)

// sellAhead is how many days before a delivery the owner is reminded of what it leaves:
// long enough to put a cut on the board, short enough to be believed.
const sellAhead = 3

// toSell reminds of pork that comes with the bellies and has no buyer: per delivery of the
// coming days, what the week's outlets do not take. Two deliveries of one week share them.
// A shop that has written down no outlets is not reminded.
func (s *Store) toSell(db *gorm.DB, now unit.Instant) ([]string, error) {
	known, err := many[shop.Outlet](db, "id", "week > 0")
	if err != nil || len(known) == 0 {
		return nil, err
	}
	today := now.Day(s.Loc)
	// From the start of the week: a delivery that has been took its part of the outlets.
	orders, err := many[shop.Order](db, "deliver_on, number", "state IN ? AND deliver_on BETWEEN ? AND ?",
		[]shop.OrderState{shop.Promised, shop.SlotHeld, shop.Killed, shop.Delivered, shop.Settled}, today.Monday(), today+sellAhead)
	if err != nil {
		return nil, err
	}
	type week struct {
		monday  unit.Day
		species string
	}
	open := map[week][]carcass.Outlet{}
	var lines []string
	for i := range orders {
		o := &orders[i]
		w := week{o.DeliverOn.Monday(), o.Species}
		outlets, ok := open[w]
		if !ok {
			outlets = shop.OutletsFor(o.Species, known)
		}
		y, err := yieldOf(db, o.FarmID, o.Species)
		if err != nil {
			return nil, err
		}
		var r Recount
		if err := s.leavesOf(db, o, y, &r); err != nil {
			return nil, err
		}
		sales := carcass.Sell(r.Leaves.Cuts, outlets, 1)
		open[w] = sales.After(outlets)
		over := homeless(sales)
		if o.DeliverOn < today || len(outlets) == 0 || over == "" {
			continue
		}
		lines = append(lines, fmt.Sprintf("%s, %s, comes %s and leaves %s besides bellies; without a home this week: %s", o.Ref(), y.Farm.Name, o.DeliverOn.Show(), sales.Weight.LB(), over))
	}
	return lines, nil
}

// homeless lists the cuts nobody takes, a pound and more.
func homeless(s carcass.Sales) string {
	var parts []string
	for _, c := range s.Cuts {
		if c.Over >= unit.Pound {
			parts = append(parts, c.Cut+" "+c.Over.LB())
		}
	}
	return strings.Join(parts, ", ")
}
