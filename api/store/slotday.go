package store

import (
	"cmp"
	"context"
	"slices"
	"time"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// SlotDay is the stock of places for one species on one kill day (R20).
type SlotDay struct {
	Day      unit.Day
	Delivery unit.Day
	Species  string
	Capacity int
	Held     int // by orders
	Used     int // animals killed, once the kill is written down
	Left     int // to be had; 0 while the floor is closed
	Closed   string
	Orders   []SlotOrder
}

// Unused is how many places were held and not used once the kill has been; −1 before.
func (d SlotDay) Unused() int {
	if d.Used == 0 {
		return -1
	}
	return max(d.Held-d.Used, 0)
}

// SlotOrder is an order that holds places, or waits for some.
type SlotOrder struct {
	Number   int
	Farm     string
	State    shop.OrderState
	Promised int
	Slots    int
}

// Slots lists the kill days from a day to a day with their places. Days on which the
// plant kills are listed for the species the house rule gives places for, whether or not
// anything is planned; other species where there is something to show.
func (s *Store) Slots(ctx context.Context, from, to unit.Day) ([]SlotDay, error) {
	db := s.read(ctx)
	book, err := s.openBook(db, 0)
	if err != nil {
		return nil, err
	}
	var rows []struct {
		Day         unit.Day
		DeliveryDay unit.Day
		Species     string
		Capacity    int
		Taken       int
		Used        int
	}
	err = db.Raw(`SELECT k.day, k.delivery_day, s.species, s.capacity, s.taken,
			(SELECT count(*) FROM animals a JOIN orders o ON o.id = a.order_id WHERE o.kill_day_id = k.id AND a.species = s.species) AS used
		FROM slots s JOIN kill_days k ON k.id = s.kill_day_id WHERE k.plant_id = ? AND k.day BETWEEN ? AND ? ORDER BY k.day, s.species`,
		book.Plant.ID, from, to).Scan(&rows).Error
	if err != nil {
		return nil, err
	}
	var orders []struct {
		SlotOrder
		Day     unit.Day
		Species string
	}
	err = db.Raw(`SELECT k.day, o.species, o.number, f.name AS farm, o.state, o.promised, o.slots FROM orders o
		JOIN kill_days k ON k.id = o.kill_day_id JOIN farms f ON f.id = o.farm_id
		WHERE k.plant_id = ? AND k.day BETWEEN ? AND ? AND o.state NOT IN ? ORDER BY k.day, o.number`,
		book.Plant.ID, from, to, []shop.OrderState{shop.Needed, shop.OrderOff}).Scan(&orders).Error
	if err != nil {
		return nil, err
	}
	var out []SlotDay
	listed := map[unit.Day]bool{}
	for _, r := range rows {
		out = append(out, SlotDay{Day: r.Day, Delivery: r.DeliveryDay, Species: r.Species, Capacity: r.Capacity, Held: r.Taken, Used: r.Used})
		listed[r.Day] = listed[r.Day] || r.Species == housePlaces
	}
	for d := max(from, s.Today()); d <= to; d++ {
		if book.killsOn(d) && !listed[d] {
			out = append(out, SlotDay{Day: d, Delivery: book.delivers(d), Species: housePlaces, Capacity: s.Rules.SlotCapacity(housePlaces)})
		}
	}
	slices.SortStableFunc(out, func(a, b SlotDay) int {
		return cmp.Or(cmp.Compare(a.Day, b.Day), cmp.Compare(a.Species, b.Species))
	})
	for i := range out {
		d := &out[i]
		d.Left, d.Closed = d.Capacity-d.Held, book.closed(d.Day, d.Species)
		if d.Closed != "" || d.Day <= s.Today() {
			d.Left = 0
		}
		for _, o := range orders {
			if o.Day == d.Day && o.Species == d.Species {
				d.Orders = append(d.Orders, o.SlotOrder)
			}
		}
	}
	return out, nil
}

// housePlaces is the species the house rule counts places for (R20).
const housePlaces = "pork"

// killsOn says whether the plant kills on a weekday like that of d.
func (b plantBook) killsOn(d unit.Day) bool {
	return slices.Contains(b.Plant.Kills(), d.Weekday())
}

// delivers is the first delivery after a kill.
func (b plantBook) delivers(kill unit.Day) unit.Day {
	d := kill + 1
	for d.Weekday() != time.Weekday(b.Plant.DeliveryWeekday) {
		d++
	}
	return d
}

// knows says whether a kind of class needs the species.
func (b plantBook) knows(species string) bool {
	for _, k := range b.Kinds {
		if species != "" && k.Species == species {
			return true
		}
	}
	return false
}

// closed says why the plant kills none of a species on a day, "" when it does.
func (b plantBook) closed(d unit.Day, species string) string {
	for _, c := range b.Book.Closures {
		if c.From <= d && d <= c.To && (len(c.Species) == 0 || slices.Contains(c.Species, species)) {
			return c.From.Show() + " to " + c.To.Show() + ": " + c.Why
		}
	}
	return ""
}
