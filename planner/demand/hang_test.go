package demand

import (
	"testing"

	"flitchbook/planner/carcass"
	"flitchbook/planner/unit"
)

// House outcome J3, "206 → 200 lb: 12 slabs become 8", for B1: 10 seats, a second slab and
// a demo from two pigs. And the house's own table of weights: skinless 3 a belly from 202
// lb, 2 under it; with the skin on 3 from 174 lb.
func TestAtHang(t *testing.T) {
	b1 := Input{Profile: carcass.Example(), Rule: carcass.SlabRule{Mode: carcass.Equal, Min: 425 * unit.Pound / 100, Max: 575 * unit.Pound / 100, Fixed: 5 * unit.Pound},
		Classes: []Class{{Code: "B1", Unit: Belly, Day: unit.DayOf(2026, 10, 10), Seats: Seats{Sold: 10, Expected: 10, Full: 10}, Second: 1, Demo: 1}}}
	for _, r := range []struct {
		lb                                      float64
		slabs, short, skinSlabs, skins, animals int
	}{
		{206, 12, 0, 12, 0, 2},
		{202, 12, 0, 12, 0, 2},
		{201, 8, 4, 12, 4, 3},
		{200, 8, 4, 12, 4, 3},
		{174, 8, 4, 12, 4, 3},
		{173, 8, 4, 8, -1, 3},
	} {
		h, err := b1.AtHang(Full, 0, unit.WeightOfPounds(r.lb))
		if err != nil {
			t.Fatal(err)
		}
		if h.Animals != 2 || h.Wanted != 12 || h.Bellies != 4 {
			t.Fatalf("%v lb: %d animals, %d wanted of %d bellies", r.lb, h.Animals, h.Wanted, h.Bellies)
		}
		if h.Slabs != r.slabs || h.Short != r.short || h.SkinSlabs != r.skinSlabs || h.Skins != r.skins || h.Needs != r.animals {
			t.Errorf("%v lb: %d slabs, short %d; skin on %d; %d skins; needs %d; want %+v", r.lb, h.Slabs, h.Short, h.SkinSlabs, h.Skins, h.Needs, r)
		}
	}
	// Three pigs give room.
	if h, err := b1.AtHang(Full, 3, unit.WeightOfPounds(200)); err != nil || h.Slabs != 12 || h.Short != 0 {
		t.Errorf("three pigs at 200 lb: %+v, %v", h, err)
	}
	if _, err := b1.AtHang(Full, 0, 0); err == nil {
		t.Error("a pig of nothing")
	}
	// A pig that gives no slab at all: nothing is enough.
	if h, err := b1.AtHang(Full, 2, unit.WeightOfPounds(60)); err != nil || h.Slabs != 0 || h.Skins != -1 || h.Needs != 0 {
		t.Errorf("pigs of 60 lb: %+v, %v", h, err)
	}
}

// A clinic's belly is free the day after: for a bacon class before it, it gives nothing.
func TestAtHangWaitsForTheClinic(t *testing.T) {
	in := Input{Profile: carcass.Example(), Rule: carcass.SlabRule{Mode: carcass.Equal, Min: 425 * unit.Pound / 100, Max: 575 * unit.Pound / 100, Fixed: 5 * unit.Pound}}
	bacon := Class{Code: "B2", Unit: Belly, Day: unit.DayOf(2026, 10, 17), Seats: Seats{10, 10, 10}, Demo: 1}
	clinic := Class{Code: "D1", Unit: Half, Day: unit.DayOf(2026, 10, 15), Seats: Seats{8, 8, 12}, PerUnit: 12}
	for day, want := range map[unit.Day][2]int{unit.DayOf(2026, 10, 15): {12, 0}, unit.DayOf(2026, 10, 17): {9, 2}} {
		clinic.Day = day
		in.Classes = []Class{bacon, clinic}
		h, err := in.AtHang(Full, 2, 206*unit.Pound)
		if err != nil || h.Slabs != want[0] || h.Short != want[1] {
			t.Errorf("clinic on %s: %d slabs, short %d, %v; want %v", day, h.Slabs, h.Short, err, want)
		}
	}
}
