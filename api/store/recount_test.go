package store_test

import (
	"fmt"
	"strings"
	"testing"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/unit"
)

// lightPig is the house scenario S-01 up to the scale: B1 with 10 seats, one second slab
// and one demo, two Harl Bank pigs, the second one light.
func lightPig(h *meatHouse) (*shop.Order, *store.Recount) {
	h.Go("2026-09-14 10:00")
	h.class("B1", "bacon", "2026-10-10 14:00", 10, 1)
	h.sell("B1", 1, "Imke", 1, 1)
	h.sell("B1", 2, "Raoul", 1)
	h.sell("B1", 3, "Perpetua", 1, 1, 1)
	h.sell("B1", 4, "Dov", 1)
	h.sell("B1", 6, "Linus", 1)
	h.sell("B1", 5, "Agnetha", 2, 1)
	o := h.promise("2026-10-07", "harl", "pork", 2, "B1")
	h.killed(o, "2026-10-07 12:30", "208", "188")
	return o, h.delivered(o, "2026-10-08 15:30", "100.6", "101.2", "90.8", "91.6")
}

func ways(r *store.Recount) string {
	var out []string
	for _, w := range r.Ways {
		out = append(out, fmt.Sprintf("%s %s %+d", w.Remedy, w.What, w.Gain))
	}
	return strings.Join(out, "\n")
}

// House scenario S-01: bellies, slabs, the gap of two and what each way out gives.
func TestSecondPigHangsLight(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		o, r := lightPig(h)
		if r.Slabs != 10 || r.Wanted != 12 || r.Short != 2 {
			t.Errorf("slabs %d of %d, short %d; want 10 of 12, short 2", r.Slabs, r.Wanted, r.Short)
		}
		var got []string
		for _, b := range r.Bellies {
			got = append(got, fmt.Sprintf("%s %s %s %d × %s", b.Tag, b.Weight.LB(), b.Cut.Net.LB(), b.Cut.Slabs.Count, b.Cut.Slabs.Each.LB()))
		}
		want := []string{"pig 1 L 16.10 lb 13.13 lb 3 × 4.38 lb", "pig 1 R 16.19 lb 13.21 lb 3 × 4.40 lb", "pig 2 L 14.53 lb 11.85 lb 2 × 5.00 lb", "pig 2 R 14.66 lb 11.96 lb 2 × 5.00 lb"}
		if strings.Join(got, "\n") != strings.Join(want, "\n") {
			t.Errorf("bellies\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
		}
		if got, want := ways(r), "drop demo 1 demo slab +1\nskin on pig 1 L +0\nskin on pig 1 R +0\nskin on pig 2 L +1\nskin on pig 2 R +1\nask to move guests who would come another day +0\ncall off the class +0"; got != want {
			t.Errorf("ways out\n%s\nwant\n%s", got, want)
		}

		// Outcome B: both skins of pig 2 stay on.
		l, err := h.MakeCutList(h.Ctx, storetest.Tobias, o.ID)
		h.must(err)
		if len(l.Missing) != 2 || l.Total != 12 {
			t.Errorf("cut list of the short delivery: %d slabs, %d without a belly; want 12 and 2", l.Total, len(l.Missing))
		}
		for _, w := range r.Ways {
			if w.Act == "skin" && w.Gain > 0 {
				h.must(h.SetSkin(h.Ctx, storetest.Odile, w.Belly, true))
			}
		}
		r, err = h.Recount(h.Ctx, o.ID)
		h.must(err)
		if r.Slabs != 12 || r.Short != 0 || len(r.Ways) != 0 {
			t.Errorf("with both skins on: %d slabs, short %d, ways %v", r.Slabs, r.Short, r.Ways)
		}
		if got := cutLines(h, o); got != `B1-01 K01 skinless 4.38 lb pig 1 L
B1-02 K01 skinless 4.38 lb pig 1 L
B1-03 K02 skinless 4.38 lb pig 1 L
B1-04 K03 skinless 4.40 lb pig 1 R
B1-05 K03 skinless 4.40 lb pig 1 R
B1-06 K03 skinless 4.40 lb pig 1 R
B1-07 K04 skin-on 4.60 lb pig 2 L
B1-08 K05 skin-on 4.60 lb pig 2 L
B1-09 K05 skin-on 4.60 lb pig 2 L
B1-10 K05 skin-on 4.64 lb pig 2 R
B1-11 K06 skin-on 4.64 lb pig 2 R
B1-12 demo skin-on 4.64 lb pig 2 R
` {
			t.Errorf("cut list\n%s", got)
		}
		// Nobody was written to but the farm and the shop.
		if n := get[int](h, "SELECT count(*) FROM notices WHERE to_addr NOT IN ('yard@harlbank.example.test', 'odile@corbel.example.test') AND created_at >= ?", h.At("2026-10-08 15:30")); n != 0 {
			t.Errorf("%d customers were written to", n)
		}
		// Made again, it changes nothing.
		before := get[int](h, "SELECT sum(revision) FROM slabs")
		_, err = h.MakeCutList(h.Ctx, storetest.Tobias, o.ID)
		h.must(err)
		if after := get[int](h, "SELECT sum(revision) FROM slabs"); after != before {
			t.Errorf("making the same cut list again changed rows: %d to %d", before, after)
		}
	})
}

func cutLines(h *meatHouse, o *shop.Order) string {
	h.t.Helper()
	l, err := h.CutListOf(h.Ctx, o.Number)
	h.must(err)
	var out strings.Builder
	for _, b := range l.Bellies {
		for _, s := range b.Slabs {
			who, skin := s.Booking, "skinless"
			if s.Demo {
				who = "demo"
			}
			if s.SkinOn {
				skin = "skin-on"
			}
			fmt.Fprintf(&out, "%s %s %s %s %s\n", s.Tag, who, skin, s.Planned.LB(), b.Tag)
		}
	}
	return out.String()
}

// A slab that is cut keeps its tag, belly and piece; those still wanted follow the seats.
func TestCutListFollowsSeats(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		h.Go("2026-09-14 10:00")
		id := h.class("B4", "bacon", "2026-10-31 14:00", 10, 1)
		petra := h.sell("B4", 19, "Petra", 1, 1)
		ignace := h.sell("B4", 20, "Ignace", 1)
		o := h.promise("2026-10-27", "harl", "pork", 2, "B4")
		h.killed(o, "2026-10-27 12:30", "209", "204")
		h.delivered(o, "2026-10-29 08:10", "101.3", "101.1", "98.8", "99.0")
		_, err := h.MakeCutList(h.Ctx, storetest.Tobias, o.ID)
		h.must(err)
		h.must(h.Do(h.Ctx, "UPDATE slabs SET state = 'cut', green = planned WHERE tag = 'B4-02'"))
		// Petra's second guest leaves after the cutting, Ignace before it: his slab is
		// wanted no more, hers is the shop's own until somebody takes the seat.
		_, err = h.LetGo(h.Ctx, nadia, petra.ID, shop.LeaveIn{Seats: []shop.SeatLeave{{Seat: petra.People[1].SeatID}}}, store.Once{})
		h.must(err)
		_, err = h.LetGo(h.Ctx, nadia, ignace.ID, shop.LeaveIn{}, store.Once{})
		h.must(err)
		if got := cutLines(h, o); got != `B4-01 K19 skinless 4.41 lb pig 1 L
B4-02  skinless 4.41 lb pig 1 L
B4-03 demo skinless 4.41 lb pig 1 L
` {
			t.Errorf("cut list\n%s", got)
		}
		// Two more come: one takes the slab that is cut already.
		h.sell("B4", 22, "Emeric", 1, 1)
		if got := cutLines(h, o); got != `B4-01 K19 skinless 4.41 lb pig 1 L
B4-02 K22 skinless 4.41 lb pig 1 L
B4-03 K22 skinless 4.41 lb pig 1 L
B4-04 demo skinless 4.40 lb pig 1 R
` {
			t.Errorf("cut list\n%s", got)
		}
		// The demo goes: its row goes too, since nothing was done to it.
		h.must(h.DropDemo(h.Ctx, storetest.Odile, id, 1))
		if n := get[int](h, "SELECT count(*) FROM slabs WHERE class_id = ?", id); n != 3 {
			t.Errorf("%d slabs after the demo was given up, want 3", n)
		}
		// The belly's skin is decided once a slab of it is cut.
		belly := get[shop.BellyID](h, "SELECT belly_id FROM slabs WHERE tag = 'B4-02'")
		if err := h.SetSkin(h.Ctx, storetest.Odile, belly, true); err == nil || !strings.Contains(err.Error(), "cut already") {
			t.Errorf("SetSkin on a belly that is cut: %v", err)
		}
	})
}

// House scenario S-10: one of four pigs is condemned.
func TestOneOfFourCondemned(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		// A 15.9 lb belly lies in the freezer from an earlier order.
		h.Go("2026-09-14 10:00")
		h.class("B1", "bacon", "2026-10-10 14:00", 10, 0)
		h.sell("B1", 1, "Imke", ones(3)...)
		early := h.promise("2026-10-07", "harl", "pork", 1, "B1")
		h.killed(early, "2026-10-07 12:30", "206")
		h.delivered(early, "2026-10-08 08:00", "99.9", "99.9")
		frozen := get[shop.BellyID](h, "SELECT max(id) FROM bellies")
		h.must(h.WeighBelly(h.Ctx, storetest.Tobias, frozen, lb("15.9")))
		h.must(h.Claim(h.Ctx, storetest.Tobias, store.NewClaim{Piece: "belly", Subject: int64(frozen), Purpose: "freezer"}))

		h.Go("2026-09-28 10:00")
		h.class("B3", "bacon", "2026-10-24 13:00", 10, 1)
		h.class("P2", "bacon", "2026-10-24 17:30", 8, 1)
		h.sell("B3", 14, "Solveig", ones(10)...)
		h.sell("P2", 18, "Dunmore", ones(8)...)
		o := h.promise("2026-10-21", "harl", "pork", 4, "B3", "P2")
		h.killed(o, "2026-10-21 12:30", "206", "206", "206", "")
		r := h.delivered(o, "2026-10-22 08:10", "99.91", "99.91", "99.91", "99.91", "99.91", "99.91")
		if r.Slabs != 18 || r.Wanted != 20 || r.Short != 2 {
			t.Errorf("%d slabs of %d, short %d; want 18 of 20, short 2", r.Slabs, r.Wanted, r.Short)
		}
		if got, want := ways(r), `drop demo 2 demo slabs +2
skin on pig 1 L +0
skin on pig 1 R +0
skin on pig 2 L +0
skin on pig 2 R +0
skin on pig 3 L +0
skin on pig 3 R +0
thaw frozen belly, 15.90 lb +0
ask to move guests who would come another day +0
call off the class +0`; got != want {
			t.Errorf("ways out\n%s\nwant\n%s", got, want)
		}
		if why := r.Ways[1].Why; why != "3 × 5.06 lb either way" {
			t.Errorf("skin on pig 1 L: %q", why)
		}
		if why := r.Ways[7].Why; why != "not in time: 15.90 lb is 4 started 5.00 lb: 96 h" {
			t.Errorf("frozen belly: %q", why)
		}
		if err := h.ThawBelly(h.Ctx, storetest.Odile, frozen, h.id("B3")); err == nil || !strings.Contains(err.Error(), "ready Mon Oct 26, 08:10") {
			t.Errorf("ThawBelly too late: %v", err)
		}
		if leaves := r.Leaves.Total.Number(unit.Pound, 1); leaves != "503.5" {
			t.Errorf("three pigs leave %s lb, want 503.5", leaves)
		}

		h.must(h.DropDemos(h.Ctx, storetest.Odile, o.ID))
		r, err := h.Recount(h.Ctx, o.ID)
		h.must(err)
		if r.Short != 0 || r.Classes[0].Gets != 10 || r.Classes[1].Gets != 8 || r.Over != 0 {
			t.Errorf("without demos: %+v, short %d, over %d", r.Classes, r.Short, r.Over)
		}
		// One belly may feed both classes: 10 and 8 out of 6 × 3.
		if got := fmt.Sprint(r.Bellies[3].For); got != "[B3 × 1 P2 × 2]" {
			t.Errorf("pig 2 R feeds %s", got)
		}
		_, err = h.MakeCutList(h.Ctx, storetest.Tobias, o.ID)
		h.must(err)
		if n := get[int](h, "SELECT count(*) FROM slabs WHERE belly_id <> 0 AND class_id IN (?, ?)", h.id("B3"), h.id("P2")); n != 18 {
			t.Errorf("%d slabs on the cut list, want 18", n)
		}

		// The slip (R23a): farm on hot weight, kill fee for all four, haul for three.
		got := h.order(o.ID)
		if got.Promised != 4 || got.Delivered != 3 || got.Condemned != 1 || !got.Short || got.State != shop.Delivered {
			t.Errorf("order %+v", got)
		}
		v, err := h.OrderPage(h.Ctx, o.Number)
		h.must(err)
		if v.Money.Farm != 1483_20 || v.Money.Plant != 280_00 || v.Money.Haul != 60_00 {
			t.Errorf("slip %+v; want farm $1,483.20, plant $280.00, haul $60.00", v.Money)
		}

		// The condemned carcass can never be claimed.
		bad := get[int64](h, "SELECT id FROM animals WHERE order_id = ? AND condemned = ?", o.ID, true)
		if err := h.Claim(h.Ctx, storetest.Tobias, store.NewClaim{Piece: "animal", Subject: bad, Purpose: "counter"}); err == nil || !strings.Contains(err.Error(), "condemned") {
			t.Errorf("claim on a condemned carcass: %v", err)
		}
		// Customers were not told.
		if n := get[int](h, "SELECT count(*) FROM notices WHERE subject <> 'order' AND created_at >= ?", h.At("2026-10-22 08:10")); n != 0 {
			t.Errorf("%d notices that are not about an order", n)
		}
	})
}

// A clinic's side is claimed by it; its belly becomes slabs from the next day on (R17),
// and no piece has two claims (R21).
func TestClinicAndBaconShareAnimals(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		h.Go("2026-09-21 10:00")
		h.class("D1", "pig", "2026-10-15 18:00", 12, 0)
		h.class("B2", "bacon", "2026-10-17 14:00", 10, 1)
		h.guests("D1", 39, "Aurel", 8)
		h.sell("B2", 7, "Friedel", ones(10)...)
		o := h.promise("2026-10-13", "harl", "pork", 2, "D1", "B2")
		h.killed(o, "2026-10-13 12:30", "207", "205")
		r := h.delivered(o, "2026-10-15 08:10", "100.3", "100.5", "99.2", "99.7")
		if r.Slabs != 12 || r.Wanted != 11 || r.Short != 0 {
			t.Errorf("%d slabs of %d, short %d", r.Slabs, r.Wanted, r.Short)
		}
		last := r.Bellies[3]
		if last.Clinic != "D1" || last.From() != h.day("2026-10-16") {
			t.Errorf("last belly %+v", last)
		}
		if err := h.Claim(h.Ctx, storetest.Tobias, store.NewClaim{Piece: "animal", Subject: int64(last.AnimalID), Purpose: "counter"}); err == nil {
			t.Error("an animal was claimed over the head of its side")
		}
		if err := h.Claim(h.Ctx, storetest.Tobias, store.NewClaim{Piece: "side", Subject: int64(r.Bellies[0].SideID), Purpose: "dinner", Class: "D1"}); err == nil || !strings.Contains(err.Error(), "earlier lot") {
			t.Errorf("dinner from the class's own lot: %v", err)
		}
		// Broken for the counter, a side takes its belly along.
		h.must(h.Claim(h.Ctx, storetest.Tobias, store.NewClaim{Piece: "side", Subject: int64(r.Bellies[0].SideID), Purpose: "counter"}))
		r, err := h.Recount(h.Ctx, o.ID)
		h.must(err)
		if r.Slabs != 9 || r.Short != 2 {
			t.Errorf("with a side to the counter: %d slabs, short %d; want 9, short 2", r.Slabs, r.Short)
		}
		if n := get[int](h, "SELECT count(*) FROM claims WHERE piece = 'side' AND subject_id = ? AND ended_at = 0", r.Bellies[0].SideID); n != 1 {
			t.Errorf("%d claims in force on one side", n)
		}
	})
}
