package store_test

import (
	"errors"
	"fmt"
	"strings"
	"sync"
	"testing"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/carcass"
)

// House outcome M5: seats become slabs, bellies, animals, an order-by and what is left.
func TestSeatsBecomeAnimals(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		h.Go("2026-09-10 10:00")
		h.class("B1", "bacon", "2026-10-10 14:00", 10, 1)
		h.sell("B1", 1, "Imke", 2, 1, 1, 1, 1, 1, 1, 1, 1)
		sheet, err := h.MeatSheet(h.Ctx, h.day("2026-10-01"), h.day("2026-10-31"))
		h.must(err)
		if len(sheet.Groups) != 0 || len(sheet.Loose) != 1 || sheet.Loose[0].Choice.Chosen.Kill != h.day("2026-10-07") {
			t.Fatalf("before planning: %+v", sheet)
		}
		if n, err := h.PlanSeason(h.Ctx, storetest.Odile); n != 1 || err != nil {
			t.Fatalf("PlanSeason = %d, %v", n, err)
		}
		sheet, err = h.MeatSheet(h.Ctx, h.day("2026-10-01"), h.day("2026-10-31"))
		h.must(err)
		g := sheet.Groups[0]
		if sold := g.Bets[0]; sold.Slabs != 11 || sold.Bellies != 4 || sold.Animals != 2 {
			t.Errorf("with 9 seats sold: %d slabs, %d bellies, %d pigs; want 11, 4, 2", sold.Slabs, sold.Bellies, sold.Animals)
		}
		// The tenth seat is on the sheet the moment it is sold.
		h.sell("B1", 2, "Raoul", 1)
		sheet, err = h.MeatSheet(h.Ctx, h.day("2026-10-01"), h.day("2026-10-31"))
		h.must(err)
		g = sheet.Groups[0]
		sold := g.Bets[0]
		if sold.Slabs != 12 || sold.PerBelly != 3 || sold.Bellies != 4 || sold.Animals != 2 {
			t.Errorf("full: %d slabs of %d a belly, %d bellies, %d pigs; want 12 of 3, 4, 2", sold.Slabs, sold.PerBelly, sold.Bellies, sold.Animals)
		}
		if got := g.OrderBy.Show(h.Loc); got != "Wed Sep 16, 17:00" || g.Passed || g.Deliver != h.day("2026-10-08") || g.Farm.Name != "Harl Bank" {
			t.Errorf("order by %s, delivered %s from %s", got, g.Deliver, g.Farm.Name)
		}
		if got, want := left(sold.Leaves), "ham 99.91 lb, loin 91.92 lb, butt 37.97 lb, picnic 42.76 lb, ribs 14.79 lb, rest 48.36 lb"; got != want {
			t.Errorf("leaves %s, want %s", got, want)
		}
		// By the value list (R42), each line to the cent: 259.77 + 404.44 + 117.69 + 94.08 + 54.71 + 26.60.
		if sold.Worth != 957_29 {
			t.Errorf("worth %s, want $957.29", sold.Worth)
		}
		// One pig costs 206 × 2.40 + 70 + 20 (outcome W3).
		if g.Cost != 584_40 {
			t.Errorf("a pig costs %s, want $584.40", g.Cost)
		}
		// Why weight matters: 202 lb and up gives 3 slabs a belly, under it 2.
		if g.Drop != "202.00 lb and up gives 3 a belly, under it 2" {
			t.Errorf("step down: %q", g.Drop)
		}
	})
}

func left(l carcass.Left) string {
	var s []string
	for _, c := range l.Cuts {
		s = append(s, c.Name+" "+c.Weight.LB())
	}
	return strings.Join(s, ", ")
}

// demoSeason is the house calendar (section "Calendar, animals") as it was sketched.
func demoSeason(h *meatHouse, d6 string) {
	for _, c := range []struct{ code, kind, at string }{
		{"B1", "bacon", "2026-10-10 14:00"}, {"D1", "pig", "2026-10-15 18:00"}, {"B2", "bacon", "2026-10-17 14:00"},
		{"D2", "venison", "2026-10-22 18:00"}, {"B3", "bacon", "2026-10-24 13:00"}, {"P2", "bacon", "2026-10-24 17:30"},
		{"D3", "pig", "2026-10-29 18:00"}, {"B4", "bacon", "2026-10-31 14:00"}, {"D4", "lamb", "2026-11-05 18:00"},
		{"B5", "bacon", "2026-11-07 14:00"}, {"D5", "beef", "2026-11-12 18:00"}, {"B6", "bacon", "2026-11-14 13:00"},
		{"B7", "bacon", "2026-11-14 15:30"}, {"D6", "pig", d6}, {"B8", "bacon", "2026-11-21 14:00"},
	} {
		seats, demo := 12, 0
		if c.kind == "bacon" {
			seats, demo = 10, 1
		}
		if c.code == "P2" {
			seats = 8
		}
		h.class(c.code, c.kind, c.at, seats, demo)
	}
}

// The kill days, delivery days, order-bys and animals of the house calendar, proposed by
// the store from its own books once the plant's closure stands in them.
func TestDemoCalendar(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		h.Go("2026-08-03 09:00")
		if _, err := h.CloseFloor(h.Ctx, storetest.Odile, store.Closing{From: h.day("2026-11-16"), To: h.day("2026-11-29"), Species: []string{"pork", "beef"}, Reason: "deer season"}); err != nil {
			t.Fatal(err)
		}
		demoSeason(h, "2026-11-18 18:00")
		ps, err := h.KillProposals(h.Ctx)
		h.must(err)
		var got []string
		for _, p := range ps {
			c := p.Choice.Chosen
			got = append(got, fmt.Sprintf("%s %d %s %s %s", p.Codes(), p.Animals, c.Kill, c.Deliver, p.OrderBy.Show(h.Loc)))
		}
		want := []string{
			"B1 2 2026-10-07 2026-10-08 Wed Sep 16, 17:00",
			"D1, B2 2 2026-10-13 2026-10-15 Tue Sep 22, 17:00",
			"D2 1 2026-10-14 2026-10-22 Sun Aug 30, 17:00",
			"B3, P2 4 2026-10-21 2026-10-22 Wed Sep 30, 17:00",
			"D3, B4 2 2026-10-27 2026-10-29 Tue Oct 6, 17:00",
			"D4 1 2026-10-28 2026-11-05 Wed Oct 7, 17:00",
			"B5 2 2026-11-04 2026-11-05 Wed Oct 14, 17:00",
			"D5 1 2026-10-27 2026-11-12 Fri Aug 28, 17:00",
			"B6, B7 4 2026-11-10 2026-11-12 Tue Oct 20, 17:00",
			"D6, B8 2 2026-11-11 2026-11-12 Wed Oct 21, 17:00",
		}
		if strings.Join(got, "\n") != strings.Join(want, "\n") {
			t.Errorf("proposals\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
		}
		n, err := h.PlanSeason(h.Ctx, storetest.Odile)
		if n != 15 || err != nil {
			t.Fatalf("PlanSeason = %d, %v", n, err)
		}
		if at := get[shop.Class](h, "SELECT * FROM classes WHERE code = 'B4'").DecideAt; at != h.At("2026-10-06 17:00") {
			t.Errorf("B4 is decided %s", at.Show(h.Loc))
		}
		if sheet, err := h.MeatSheet(h.Ctx, h.day("2026-10-01"), h.day("2026-11-30")); err != nil || len(sheet.Groups) != 10 || len(sheet.Loose) != 0 {
			t.Errorf("sheet %+v, %v", sheet, err)
		}
	})
}

// House scenario S-11, the meat of it: the floor closes; B8 moves by itself, D6 is only
// listed with the other days that fit.
func TestKillFloorCloses(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		h.Go("2026-10-01 09:00")
		h.class("B6", "bacon", "2026-11-14 13:00", 10, 1)
		h.class("B7", "bacon", "2026-11-14 15:30", 10, 1)
		b8 := h.class("B8", "bacon", "2026-11-21 14:00", 10, 1)
		d6 := h.class("D6", "pig", "2026-11-19 18:00", 12, 0)
		h.guests("D6", 52, "Leocadia", 6)
		h.guests("D6", 53, "Barnaby", 3)
		for _, p := range []struct{ code, kill string }{{"B6", "2026-11-10"}, {"B7", "2026-11-10"}, {"B8", "2026-11-18"}, {"D6", "2026-11-17"}} {
			h.must(h.PlanKill(h.Ctx, storetest.Odile, h.id(p.code), h.day(p.kill)))
		}
		h.Go("2026-10-05 09:00")
		c := store.Closing{From: h.day("2026-11-16"), To: h.day("2026-11-29"), Species: []string{"pork", "beef"}, Reason: "deer season"}
		touched, err := h.FloorImpact(h.Ctx, c)
		h.must(err)
		if len(touched) != 2 || touched[0].Class.Code != "D6" || touched[0].People != 9 || touched[1].Class.Code != "B8" || !touched[1].MeatOnly || touched[1].People != 0 {
			t.Fatalf("touched %+v", touched)
		}
		var instead []string
		for _, o := range touched[0].Instead {
			instead = append(instead, fmt.Sprintf("%s from %s, %d days", o.Day.Show(), o.Chosen.Kill.Show(), o.Chosen.Hang))
		}
		if got := strings.Join(instead, "; "); got != "Wed Nov 18 from Wed Nov 11, 7 days; Tue Nov 17 from Wed Nov 11, 6 days; Thu Dec 3 from Tue Dec 1, 2 days" {
			t.Errorf("instead: %s", got)
		}
		if n := get[int](h, "SELECT count(*) FROM plant_closures"); n != 0 {
			t.Error("asking what would be touched entered the closure")
		}
		_, err = h.CloseFloor(h.Ctx, storetest.Odile, c)
		h.must(err)
		if got := get[string](h, "SELECT k.day FROM kill_days k JOIN classes c ON c.kill_day_id = k.id WHERE c.id = ?", b8); got != "2026-11-11" {
			t.Errorf("B8's kill is %s, want 2026-11-11", got)
		}
		if at := get[shop.Class](h, "SELECT * FROM classes WHERE code = 'B8'").DecideAt; at != h.At("2026-10-21 17:00") {
			t.Errorf("B8's order-by is %s", at.Show(h.Loc))
		}
		if n := get[int](h, "SELECT kill_day_id FROM classes WHERE id = ?", d6); n != 0 {
			t.Errorf("D6 still counts on kill day %d", n)
		}
		if n := get[int](h, "SELECT count(*) FROM notices WHERE created_at >= ?", h.Now()); n != 0 {
			t.Errorf("%d messages went out by themselves", n)
		}
		// The owner takes Wed Nov 18: D6's half is one of B8's four, still two pigs.
		h.must(h.MoveClass(h.Ctx, storetest.Odile, "D6", h.At("2026-11-18 18:00"), "the kill floor is closed"))
		h.must(h.PlanKill(h.Ctx, storetest.Odile, d6, h.day("2026-11-11")))
		sheet, err := h.MeatSheet(h.Ctx, h.day("2026-11-11"), h.day("2026-11-11"))
		h.must(err)
		if len(sheet.Groups) != 1 || sheet.Groups[0].Bets[2].Animals != 2 || sheet.Groups[0].Bets[2].Halves != 1 {
			t.Errorf("D6 and B8 together: %+v", sheet.Groups)
		}
		// A kill too long before the class, and a closed one, are refused with the reason.
		err = h.PlanKill(h.Ctx, storetest.Odile, d6, h.day("2026-11-10"))
		if err == nil || !strings.Contains(err.Error(), "8 days before the class, at most 7") {
			t.Errorf("PlanKill D6 on Nov 10: %v", err)
		}
		err = h.PlanKill(h.Ctx, storetest.Odile, b8, h.day("2026-11-18"))
		if err == nil || !strings.Contains(err.Error(), "closed Mon Nov 16 to Sun Nov 29: deer season") {
			t.Errorf("PlanKill B8 on Nov 18: %v", err)
		}
		// Wrong dates are named, all at once.
		_, err = h.CloseFloor(h.Ctx, storetest.Odile, store.Closing{From: h.day("2026-11-29"), To: h.day("2026-11-16")})
		if e, ok := shop.AsError(err); !ok || len(e.Fields) != 2 {
			t.Errorf("CloseFloor the wrong way round: %v", err)
		}
	})
}

// House scenario S-12: a second sitting the cooler cannot hold.
func TestSecondSittingDoesNotFit(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		h.Go("2026-10-23 10:00")
		for _, c := range []struct{ code, at string }{{"B5", "2026-11-07 14:00"}, {"B6", "2026-11-14 13:00"}, {"B7", "2026-11-14 15:30"}, {"B8", "2026-11-21 14:00"}} {
			h.class(c.code, "bacon", c.at, 10, 1)
		}
		_, err := h.AddClass(h.Ctx, storetest.Odile, shop.NewClass{Code: "B9", Kind: "bacon", StartsAt: h.At("2026-11-21 16:30"), MinSeats: -1, DemoSlabs: -1})
		h.must(err)
		err = h.Publish(h.Ctx, storetest.Odile, "B9")
		e, ok := shop.AsError(err)
		if !ok || e.Kind != shop.Conflict {
			t.Fatalf("Publish = %v", err)
		}
		if e.Text != "Sat Nov 21: rack 44 of 36; at most 2 seats fit; the whole class fits on Sat Dec 5." {
			t.Errorf("refused with %q", e.Text)
		}
		if got := get[string](h, "SELECT state FROM classes WHERE code = 'B9'"); got != "sketched" {
			t.Errorf("the sketch is %s", got)
		}
		// B6 and B7 cut to 8 seats each: 18 + 11 + 11 = 40, still refused.
		h.must(h.Do(h.Ctx, "UPDATE classes SET seats = 8 WHERE code IN ('B6', 'B7')"))
		if err := h.Publish(h.Ctx, storetest.Odile, "B9"); err == nil || !strings.Contains(err.Error(), "rack 40 of 36") {
			t.Errorf("with 8 seats each: %v", err)
		}
		h.must(h.Do(h.Ctx, "UPDATE classes SET seats = 2 WHERE code = 'B9'"))
		h.must(h.Publish(h.Ctx, storetest.Odile, "B9"))
		sketch, err := h.Season(h.Ctx, h.day("2026-11-02"), h.day("2026-11-29"))
		h.must(err)
		if w := sketch.Weeks[2]; w.Rack != 32 || len(w.Classes) != 2 || len(w.Breaks) != 0 {
			t.Errorf("week of Nov 16: rack %d, %d classes, breaks %v; want 18 + 11 + 3 = 32", w.Rack, len(w.Classes), w.Breaks)
		}
	})
}

// An order walks its states; each no says why, and nothing is done twice.
func TestOrderLife(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		h.Go("2026-09-10 10:00")
		h.class("B1", "bacon", "2026-10-10 14:00", 10, 1)
		h.sell("B1", 1, "Imke", 1, 1)
		h.must(h.PlanKill(h.Ctx, storetest.Odile, h.id("B1"), h.day("2026-10-07")))
		n := store.NewOrder{Kill: h.day("2026-10-07"), Farm: "harl", Species: "pork", Animals: 2, Basis: "full", Once: store.Once{Key: "press 1"}}
		o, err := h.DraftOrder(h.Ctx, storetest.Odile, n)
		h.must(err)
		again, err := h.DraftOrder(h.Ctx, storetest.Odile, n)
		if err != nil || again.ID != o.ID {
			t.Fatalf("the same press again: %+v, %v", again, err)
		}
		n.Once.Key = "press 2"
		if _, err := h.DraftOrder(h.Ctx, storetest.Odile, n); err == nil {
			t.Error("a second order for the same class was drafted")
		}
		v, err := h.OrderPage(h.Ctx, o.Number)
		h.must(err)
		if v.Why.Plan.Full.Animals != 2 || v.Why.Basis != "full" || len(v.Lines) != 1 || v.Lines[0].Wanted != 11 {
			t.Errorf("kept reckoning %+v, lines %+v", v.Why.Plan.Full, v.Lines)
		}
		secret := h.OrderSecret(o)
		if _, err := h.OrderSlip(h.Ctx, secret); err == nil {
			t.Error("a farm can read an order that was not sent")
		}
		if _, err := h.AnswerOrder(h.Ctx, secret, shop.FarmAnswer{Says: "yes"}); err == nil {
			t.Error("an order that was not sent was answered")
		}
		o, err = h.SendOrder(h.Ctx, storetest.Odile, o.ID)
		h.must(err)
		if _, err := h.SendOrder(h.Ctx, storetest.Odile, o.ID); err == nil {
			t.Error("an order was sent twice")
		}
		if at := get[int64](h, "SELECT due_at FROM notices WHERE kind = 'order-remind'"); at != int64(h.At("2026-09-13 10:00")) {
			t.Errorf("the farm is reminded at %d, want Sun Sep 13, 10:00, three days before Wed Sep 16", at)
		}
		for _, bad := range []shop.FarmAnswer{{Says: "perhaps"}, {Says: "fewer", Animals: 2}, {Says: "fewer"}} {
			if _, err := h.AnswerOrder(h.Ctx, secret, bad); err == nil {
				t.Errorf("answer %+v was taken", bad)
			}
		}
		if _, err := h.AnswerOrder(h.Ctx, "wrong", shop.FarmAnswer{Says: "yes"}); err == nil {
			t.Error("a wrong secret was taken")
		}
		o, err = h.AnswerOrder(h.Ctx, secret, shop.FarmAnswer{Says: "fewer", Animals: 1, Words: "one limps"})
		h.must(err)
		if o.State != shop.SlotHeld || o.Promised != 1 || !o.Short || o.Answer != "fewer, 1 pig: one limps" {
			t.Errorf("after the answer %+v", o)
		}
		// Twice the same counts once; another is refused.
		_, err = h.AnswerOrder(h.Ctx, secret, shop.FarmAnswer{Says: "fewer", Animals: 1})
		h.must(err)
		if _, err := h.AnswerOrder(h.Ctx, secret, shop.FarmAnswer{Says: "yes"}); err == nil || !strings.Contains(err.Error(), "ring us") {
			t.Errorf("another answer: %v", err)
		}
		if n := get[int](h, "SELECT taken FROM slots"); n != 1 {
			t.Errorf("%d slots taken, want 1", n)
		}
		if got := get[string](h, "SELECT state FROM notices WHERE kind = 'order-remind'"); got != "cancelled" {
			t.Errorf("the reminder is %s", got)
		}
		if n := get[int](h, "SELECT count(*) FROM notices WHERE kind = 'farm-answered'"); n != 1 {
			t.Errorf("the owner was told %d times", n)
		}
		if _, err := h.RecordKill(h.Ctx, storetest.Odile, o.ID, []shop.KilledAnimal{{Hot: lb("206")}}); err == nil {
			t.Error("a kill was recorded before its day")
		}
		// Called off: slots, class and reminders are free again, the farm is told.
		if err := h.CallOffOrder(h.Ctx, storetest.Odile, o.ID, " "); err == nil {
			t.Error("called off without a reason")
		}
		h.must(h.CallOffOrder(h.Ctx, storetest.Odile, o.ID, "the class is called off"))
		if n := get[int](h, "SELECT taken FROM slots"); n != 0 {
			t.Errorf("%d slots still taken", n)
		}
		if n := get[int](h, "SELECT order_id FROM classes WHERE code = 'B1'"); n != 0 {
			t.Errorf("B1 still hangs on order %d", n)
		}
		if n := get[int](h, "SELECT count(*) FROM notices WHERE kind = 'order-changed'"); n != 1 {
			t.Errorf("the farm was told %d times", n)
		}
		if err := h.CallOffOrder(h.Ctx, storetest.Odile, o.ID, "again"); err == nil {
			t.Error("called off twice")
		}
	})
}

// The order-by passes without an answer: the order is marked late, the owner told once.
func TestOrderByPasses(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		h.Go("2026-09-10 10:00")
		h.class("B1", "bacon", "2026-10-10 14:00", 10, 1)
		o, err := h.DraftOrder(h.Ctx, storetest.Odile, store.NewOrder{Kill: h.day("2026-10-07"), Species: "pork", Animals: 2, Basis: "full", Classes: []string{"B1"}})
		h.must(err)
		_, err = h.SendOrder(h.Ctx, storetest.Odile, o.ID)
		h.must(err)
		h.Go("2026-09-16 17:00")
		h.must(h.RunDue(h.Ctx))
		h.must(h.RunDue(h.Ctx))
		if !h.order(o.ID).Late || get[int](h, "SELECT count(*) FROM notices WHERE kind = 'owner-task'") != 1 {
			t.Errorf("order %+v", h.order(o.ID))
		}
		// A late yes still counts.
		got, err := h.AnswerOrderFor(h.Ctx, storetest.Odile, o.ID, shop.FarmAnswer{Says: "yes", Words: "rang"})
		h.must(err)
		if got.State != shop.SlotHeld || !got.Late {
			t.Errorf("after a late yes %+v", got)
		}
	})
}

// Two owners press at once, and two farms promise more than the plant has places: slots
// are never oversold, and each order moves once (R20: four of our pigs a kill day).
func TestSlotsNeverOversold(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		h.Go("2026-09-28 10:00")
		h.class("B3", "bacon", "2026-10-24 13:00", 10, 1)
		h.class("P2", "bacon", "2026-10-24 17:30", 8, 1)
		var orders []*shop.Order
		for _, c := range []string{"B3", "P2"} {
			o, err := h.DraftOrder(h.Ctx, storetest.Odile, store.NewOrder{Kill: h.day("2026-10-21"), Species: "pork", Animals: 3, Basis: "full", Classes: []string{c}})
			h.must(err)
			orders = append(orders, o)
		}
		var wg sync.WaitGroup
		sent, stopped := make(chan int, 8), make(chan error, 8)
		for range 4 {
			for i, o := range orders {
				wg.Go(func() {
					if _, err := h.SendOrder(h.Ctx, storetest.Odile, o.ID); err != nil {
						stopped <- err
						return
					}
					sent <- i
				})
			}
		}
		wg.Wait()
		if len(sent) != 2 || len(stopped) != 6 {
			t.Errorf("%d sent, %d stopped; want each order sent once", len(sent), len(stopped))
		}
		close(stopped)
		for err := range stopped {
			if e, ok := shop.AsError(err); !ok || e.Kind != shop.Conflict {
				t.Errorf("stopped by %v", err)
			}
		}
		for range 3 {
			for _, o := range orders {
				wg.Go(func() {
					if _, err := h.AnswerOrder(h.Ctx, h.OrderSecret(o), shop.FarmAnswer{Says: "yes"}); err != nil && !errors.Is(err, shop.ErrMoved) {
						t.Errorf("AnswerOrder: %v", err)
					}
				})
			}
		}
		wg.Wait()
		if n := get[int](h, "SELECT taken FROM slots"); n != 3 {
			t.Errorf("%d of 4 slots taken, want 3: one order got its places", n)
		}
		if n := get[int](h, "SELECT count(*) FROM orders WHERE state = 'promised'"); n != 1 {
			t.Errorf("%d orders promised without a slot, want 1", n)
		}
		if n := get[int](h, "SELECT count(*) FROM notices WHERE kind = 'farm-answered'"); n != 2 {
			t.Errorf("%d answers told, want 2", n)
		}
		waiting := get[shop.OrderID](h, "SELECT id FROM orders WHERE state = 'promised'")
		if err := h.HoldSlot(h.Ctx, storetest.Odile, waiting); err == nil {
			t.Error("a slot was held where there is none")
		}
		// The plant gives two more places.
		h.must(h.SetCapacity(h.Ctx, storetest.Odile, h.order(waiting).KillDayID, "pork", 6))
		h.must(h.HoldSlot(h.Ctx, storetest.Odile, waiting))
		if err := h.SetCapacity(h.Ctx, storetest.Odile, h.order(waiting).KillDayID, "pork", 5); err == nil {
			t.Error("places that are held were taken away")
		}
	})
}

// What is typed wrong at the scale is refused, every line of it, and changes nothing.
func TestDeliveryTypedWrong(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		h.Go("2026-09-14 10:00")
		h.class("B1", "bacon", "2026-10-10 14:00", 10, 1)
		h.sell("B1", 1, "Imke", 1)
		o := h.promise("2026-10-07", "harl", "pork", 3, "B1")
		h.Go("2026-10-07 12:30")
		_, err := h.RecordKill(h.Ctx, storetest.Odile, o.ID, []shop.KilledAnimal{{Hot: lb("2060")}, {Hot: 0}, {Tag: "x", Hot: lb("206")}, {Tag: "X", Hot: lb("206")}})
		if e, ok := shop.AsError(err); !ok || len(e.Fields) != 3 {
			t.Errorf("RecordKill: %v", err)
		}
		h.killed(o, "2026-10-07 12:30", "206", "206", "")
		good := sides("99.9", "99.9", "99.9", "99.9")
		for _, row := range []struct {
			what, legend string
			sides        []shop.DeliveredSide
			field        string
		}{
			{"no inspection mark", " ", good, "legend"},
			{"another plant's mark", "EST. 1", good, "legend"},
			{"nothing", mark, nil, "sides"},
			{"a side of 0", mark, sides("0", "99.9"), "side1L"},
			{"a side of 2000 lb", mark, sides("2000", "99.9"), "side1L"},
			{"one side of two", mark, good[:1], "side1R"},
			{"a side twice", mark, append(sides("99.9", "99.9"), good[0]), "side1L"},
			{"heavier cold than hot", mark, sides("120", "99.9"), "side1R"},
			{"a condemned animal", mark, append(sides("99.9", "99.9"), shop.DeliveredSide{Animal: 3, Which: "L", Cold: lb("99")}, shop.DeliveredSide{Animal: 3, Which: "R", Cold: lb("99")}), "side3L"},
			{"an animal that is not in the order", mark, []shop.DeliveredSide{{Animal: 7, Which: "L", Cold: lb("99")}, {Animal: 7, Which: "R", Cold: lb("99")}}, "side7L"},
		} {
			_, err := h.ReceiveDelivery(h.Ctx, storetest.Tobias, o.ID, row.legend, row.sides)
			e, ok := shop.AsError(err)
			if !ok || e.Fields[row.field] == "" {
				t.Errorf("%s: %v, want a word at %s", row.what, err, row.field)
			}
		}
		if n := get[int](h, "SELECT count(*) FROM sides") + get[int](h, "SELECT count(*) FROM deliveries"); n != 0 || h.order(o.ID).State != shop.Killed {
			t.Errorf("refused deliveries left %d rows, state %s", n, h.order(o.ID).State)
		}
		h.delivered(o, "2026-10-08 08:00", "99.9", "99.9", "99.9", "99.9")
		if _, err := h.ReceiveDelivery(h.Ctx, storetest.Tobias, o.ID, mark, good); err == nil {
			t.Error("a delivery was weighed in twice")
		}
		if n := get[int](h, "SELECT count(*) FROM notices WHERE kind = 'order-thanks'"); n != 1 {
			t.Errorf("the farm was thanked %d times", n)
		}
		// Settling: bills that differ from the slip need a word.
		m, err := h.OrderPage(h.Ctx, o.Number)
		h.must(err)
		if err := h.SettleOrder(h.Ctx, storetest.Odile, o.ID, store.Bills{Farm: m.Money.Farm, Plant: m.Money.Plant}); err == nil {
			t.Error("bills without the haul were taken without a word")
		}
		h.must(h.SettleOrder(h.Ctx, storetest.Odile, o.ID, store.Bills{Farm: m.Money.Farm + m.Money.Haul, Plant: m.Money.Plant}))
		if got := h.order(o.ID).State; got != shop.Settled {
			t.Errorf("order is %s", got)
		}
	})
}
