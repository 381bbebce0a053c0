package reckon

import (
	"time"

	"flitchbook/planner/unit"
)

// orderExample is two weeks of an invented shop, small enough to follow with a pencil:
// two bacon classes, a pig clinic, two farms, four deliveries.
func orderExample() buyingIn {
	date := func(m time.Month, d int) dayOr { return dayOr{date: unit.DayOf(2026, m, d)} }
	day := func(m time.Month, d int) *dayOr { v := date(m, d); return &v }
	cents := func(c int64) centsOr { return centsOr{unit.Money(c), true} }
	name := func(s string) labelOr { return labelOr{text: s} }
	n := func(v int) *int { return &v }
	farm := func(s string) *labelOr { v := name(s); return &v }
	harl := map[string]centsOr{"whole": cents(310), "half": cents(330)}
	lampwick := map[string]centsOr{"whole": cents(360), "half": cents(380)}
	hollow := map[string]unit.Weight{"whole": 138 * unit.Pound, "half": 69 * unit.Pound}
	return buyingIn{
		Start: unit.DayOf(2026, time.October, 5), Today: day(time.September, 14),
		Kinds: []pieceIn{
			{Name: "side", BreaksInto: map[string]int{"belly": 1, "shoulder": 1, "loin": 1, "ham": 1}, FreshMin: n(0), FreshMax: n(5), FrozenMax: n(0)},
			{Name: "belly"}, {Name: "shoulder"}, {Name: "loin"}, {Name: "ham"},
		},
		Forms: []formIn{
			{Name: "whole", Gives: map[string]int{"side": 2}, Group: "halves", Size: 2},
			{Name: "half", Gives: map[string]int{"side": 1}, Group: "halves", Size: 1},
		},
		Classes: []orderClassIn{
			{ID: name("B1"), Type: "bacon", Day: date(time.October, 10), Seats: 10, Demand: map[string]int{"belly": 4}, FrozenOK: []string{"belly"}},
			{ID: name("D1"), Type: "pig clinic", Day: date(time.October, 15), Seats: 8, Demand: map[string]int{"side": 1}},
			{ID: name("B2"), Type: "bacon", Day: date(time.October, 17), Seats: 10, Demand: map[string]int{"belly": 3}, FrozenOK: []string{"belly"}},
		},
		Offers: []offerIn{
			{ID: name("HB-1"), Farm: farm("Harl Bank"), Kill: day(time.October, 7), Day: date(time.October, 8), PerPound: harl,
				Caps: map[string]int{"halves": 6}, Drop: cents(6000), Slot: "Oct 7"},
			{ID: name("LH-1"), Farm: farm("Lampwick Hollow"), Kill: day(time.October, 7), Day: date(time.October, 8), PerPound: lampwick, Hanging: hollow,
				Caps: map[string]int{"halves": 2}, Drop: cents(3500), Slot: "Oct 7", Lead: n(28)},
			{ID: name("HB-2"), Farm: farm("Harl Bank"), Kill: day(time.October, 13), Day: date(time.October, 15), PerPound: harl,
				Caps: map[string]int{"halves": 4}, Drop: cents(6000), Slot: "Oct 13"},
			{ID: name("LH-2"), Farm: farm("Lampwick Hollow"), Kill: day(time.October, 13), Day: date(time.October, 15), PerPound: lampwick, Hanging: hollow,
				Caps: map[string]int{"halves": 4}, Drop: cents(3500), Slot: "Oct 13", Lead: n(28)},
		},
		Slots:    []sharedSlotIn{{"Oct 7", "halves", 8}, {"Oct 13", "halves", 8}},
		FreshMin: 1, FreshMax: 6, FrozenMax: 60,
		FreezeCost: map[string]centsOr{"belly": cents(150)},
		Shelf:      map[string]int{"side": 7, "belly": 1, "shoulder": 2, "loin": 1, "ham": 3},
		Cooler:     n(40), Freezer: n(20),
		Value:     map[string]centsOr{"belly": cents(7800), "shoulder": cents(8200), "loin": cents(11500), "ham": cents(9400)},
		RetailCap: map[string][]int{"belly": {1, 1}, "shoulder": {4, 3}, "loin": {4, 4}, "ham": {3, 3}},
		Thaw:      map[string]int{"belly": 4},
		Hanging:   map[string]unit.Weight{"whole": 206 * unit.Pound, "half": 103 * unit.Pound},
		Lead:      21,
	}
}
