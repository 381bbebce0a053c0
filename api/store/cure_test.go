package store_test

import (
	"errors"
	"fmt"
	"sync"
	"testing"
	"time"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/unit"
)

// M8: a skin-on slab of 4.60 lb is reckoned on 1877.9 g (house rule on the ticket; skin
// counts as 10 %, FSIS Directive 7620.3 as quoted): 41, 21 and 4.7 g, 156.4 ppm. A
// weigh-out of 5.2 g is 10.6 % over and stops; both stay on record.
func TestOneSlabsCure(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		b := lay(t, h)
		b.Go("2026-10-09 09:00")
		b.class("B1", "2026-10-10 14:00")
		_, tags := b.party(1, "Imke S.", "B1", laid{"PB", "4.60", true})
		tag := tags[0]
		b.no(b.Kit(b.Ctx, storetest.Tobias, on(tag)), "cannot become")
		b.cut(tag)
		b.Go("2026-10-10 14:30")
		b.no(b.SeatWeight(b.Ctx, storetest.Tobias, on(tag), b.lb("4.72")), "wrong slab or wrong scale")
		b.ok(b.SeatWeight(b.Ctx, storetest.Tobias, on(tag), b.lb("4.55")))
		b.ok(b.Kit(b.Ctx, storetest.Tobias, on(tag)))
		k := b.ticket(tag)
		if got := []string{k.Basis.G(1), k.Salt.G(0), k.Sugar.G(0), k.Cure.G(1), k.Spice.G(0), k.PPM.Show()}; got[0] != "1877.9 g" || got[1] != "41 g" || got[2] != "21 g" || got[3] != "4.7 g" || got[4] != "21 g" || got[5] != "156.4 ppm" {
			t.Errorf("ticket %v", got)
		}
		w := weighed(k)
		b.no(b.WeighOut(b.Ctx, storetest.Tobias, on(tag), w), "was not checked")
		b.no(b.CheckScale(b.Ctx, storetest.Tobias, "cure scale", unit.WeightOfGrams(5.2)), "outside 4.9 to 5.1 g")
		b.no(b.WeighOut(b.Ctx, storetest.Tobias, on(tag), w), "outside 4.9 to 5.1 g")
		b.ok(b.CheckScale(b.Ctx, storetest.Tobias, "cure scale", unit.WeightOfGrams(5.1)))
		for _, typed := range []struct{ cure, scale, says string }{
			{"4,7", "cure scale", "comma"},
			{"5", "cure scale", "no decimal"},
			{"4.7", "kitchen scale", "0.1 g or finer"},
			{"pinch", "cure scale", "not a weight"},
		} {
			w := w
			w.Cure, w.Scale = typed.cure, typed.scale
			b.no(b.WeighOut(b.Ctx, storetest.Tobias, on(tag), w), typed.says)
		}
		if n := b.count(&shop.WeighOut{}, "1 = 1"); n != 0 {
			t.Errorf("%d weigh-outs kept of what was never weighed", n)
		}
		b.no(b.Seal(b.Ctx, storetest.Tobias, on(tag), ""), "no passing weigh-out")
		over := w
		over.Cure = "5.2"
		b.no(b.WeighOut(b.Ctx, storetest.Tobias, on(tag), over), "10.6 %", "scrape it off")
		b.no(b.Seal(b.Ctx, storetest.Tobias, on(tag), ""), "no passing weigh-out")
		b.ok(b.WeighOut(b.Ctx, storetest.Tobias, on(tag), w))
		if n, bad := b.count(&shop.WeighOut{}, "1 = 1"), b.count(&shop.WeighOut{}, "passed = ?", false); n != 2 || bad != 1 {
			t.Errorf("%d weigh-outs on record, %d failed; want 2 and 1", n, bad)
		}
		// A failed one after the passing one bars the bag again.
		b.no(b.WeighOut(b.Ctx, storetest.Tobias, on(tag), over), "10.6 %")
		b.no(b.Seal(b.Ctx, storetest.Tobias, on(tag), ""), "no passing weigh-out")
		b.ok(b.WeighOut(b.Ctx, storetest.Tobias, on(tag), w))
		// New weight or skin: the old ticket no longer counts, nor what was weighed for it.
		b.no(b.CorrectSlab(b.Ctx, storetest.Tobias, on(tag), store.Cutting{Weight: b.lb("4.60")}), "Say why")
		b.ok(b.CorrectSlab(b.Ctx, storetest.Tobias, store.Scan{Tag: tag, Reason: "skin taken off after all"}, store.Cutting{Weight: b.lb("4.05")}))
		if k2 := b.ticket(tag); k2.ID == k.ID || k2.Basis == k.Basis {
			t.Errorf("ticket %+v still counts", k2)
		}
		b.no(b.Seal(b.Ctx, storetest.Tobias, on(tag), ""), "no passing weigh-out")
		b.ok(b.WeighOut(b.Ctx, storetest.Tobias, on(tag), weighed(b.ticket(tag))))
		b.ok(b.Seal(b.Ctx, storetest.Tobias, on(tag), ""))
		sl := b.get(tag)
		// R27, R28: sealed Sat Oct 10, unbag Thu Oct 22 at the earliest, ready Sat Oct 24.
		if sl.State != shop.InCure || sl.SealedOn.Show() != "Sat Oct 10" || sl.UnbagFrom.Show() != "Thu Oct 22" || sl.ReadyOn.Show() != "Sat Oct 24" || sl.JarID != b.jars["PB"] {
			t.Errorf("sealed slab %+v", sl)
		}
		if n := b.count(&shop.Placement{}, "slab_id = ? AND until_at = 0", sl.ID); n != 1 {
			t.Errorf("the bag lies in %d places", n)
		}
		var e shop.Entry
		b.rows(func(db *gorm.DB) error { return db.Take(&e, "kind = ?", "ready").Error })
		if e.Day != sl.ReadyOn {
			t.Errorf("calendar entry %+v", e)
		}
	})
}

// M10: a bag sealed at the class of Sat Nov 14 is ready Wed Dec 2, not Nov 28: the
// holiday of Nov 26 and 27 rules two chains out.
func TestReadyOverTheHoliday(t *testing.T) {
	h := storetest.SQLite(t)
	b := lay(t, h)
	b.Go("2026-11-14 13:00")
	b.class("B6", "2026-11-14 13:00")
	_, tags := b.party(30, "Orla G.", "B6", laid{"PB", "4.60", false})
	b.teach(tags...)
	if sl := b.get(tags[0]); sl.ReadyOn.Show() != "Wed Dec 2" || sl.SmokeOn.Show() != "Tue Dec 1" || sl.UnbagFrom.Show() != "Thu Nov 26" {
		t.Errorf("ready %s, smoke %s, unbag %s", sl.ReadyOn.Show(), sl.SmokeOn.Show(), sl.UnbagFrom.Show())
	}
}

func TestSealingIsRefused(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		b := lay(t, h)
		b.Go("2026-10-10 14:00")
		b.class("B1", "2026-10-10 14:00")
		_, tags := b.party(1, "Imke S.", "B1", laid{"PB", "4.60", false}, laid{"GP", "4.50", false}, laid{"day", "4.40", false})
		demo := b.demo("B1", "4.40")
		all := append(append([]string{}, tags...), demo)
		b.cut(all...)
		b.ok(b.CheckScale(b.Ctx, storetest.Tobias, "cure scale", 5*unit.Gram))
		for _, tag := range all {
			b.ok(b.Kit(b.Ctx, storetest.Tobias, on(tag)))
		}
		// The demo slab is no exception.
		b.no(b.Seal(b.Ctx, storetest.Tobias, on(demo), ""), "no passing weigh-out")
		b.ok(b.WeighOut(b.Ctx, storetest.Tobias, on(demo), weighed(b.ticket(demo))))
		b.ok(b.Seal(b.Ctx, storetest.Tobias, on(demo), "R7"))

		// No lot of salt is entered: nothing of unknown origin is sealed in.
		b.rows(func(db *gorm.DB) error {
			return db.Model(&shop.IngredientLot{}).Where("ingredient = ?", "bay").Update("used_up_on", b.Today()).Error
		})
		b.rows(func(db *gorm.DB) error {
			return db.Exec("UPDATE jar_lots SET until_at = ? WHERE lot_id = (SELECT id FROM ingredient_lots WHERE ingredient = 'bay')", b.Now()).Error
		})
		b.ok(b.WeighOut(b.Ctx, storetest.Tobias, on(tags[0]), weighed(b.ticket(tags[0]))))
		b.no(b.Seal(b.Ctx, storetest.Tobias, on(tags[0]), ""), "no lot is recorded for bay")

		// The spice is for the guest to say.
		w := weighed(b.ticket(tags[2]))
		b.ok(b.WeighOut(b.Ctx, storetest.Tobias, on(tags[2]), w))
		b.no(b.Seal(b.Ctx, storetest.Tobias, on(tags[2]), ""), "no spice yet")
		b.ok(b.PickAtTable(b.Ctx, storetest.Tobias, on(tags[2]), "MC"))
		b.no(b.Seal(b.Ctx, storetest.Tobias, on(tags[2]), ""), "spice of B1-03 is not weighed")
		b.ok(b.WeighOut(b.Ctx, storetest.Tobias, on(tags[2]), store.Weighed{Spice: "30"}))
		b.ok(b.Seal(b.Ctx, storetest.Tobias, on(tags[2]), ""))

		// A rack place is taken once.
		b.ok(b.WeighOut(b.Ctx, storetest.Tobias, on(tags[1]), weighed(b.ticket(tags[1]))))
		b.no(b.Seal(b.Ctx, storetest.Tobias, on(tags[1]), "R7"), "taken")
		b.no(b.Seal(b.Ctx, storetest.Tobias, on(tags[1]), "W1"), "owner")
		b.no(b.Seal(b.Ctx, storetest.Tobias, on(tags[1]), "H1"), "no such place")

		// Meat without an inspection mark never enters.
		b.rows(func(db *gorm.DB) error { return db.Exec("UPDATE deliveries SET legend = ''").Error })
		b.no(b.Seal(b.Ctx, storetest.Tobias, on(tags[1]), ""), "inspected")
		if un, err := b.UnsealedTags(b.Ctx, b.classes["B1"].ID); err != nil || len(un) != 2 || un[0] != tags[0] || un[1] != tags[1] {
			t.Errorf("unsealed: %v, %v", un, err)
		}
	})
}

// S-08: two friends swap slabs. Numbers are the scenario's.
func TestSwap(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		b := lay(t, h)
		b.Go("2026-11-06 09:00")
		b.class("B5", "2026-11-07 14:00")
		_, a := b.party(24, "Tamsin R.", "B5", laid{"PB", "5.62", false})
		for range 4 {
			b.numbers["B5"]++
		}
		_, c := b.party(26, "Saoirse F.", "B5", laid{"GP", "4.31", false})
		one, six := a[0], c[0]
		b.cut(one, six)
		b.Go("2026-11-07 14:35")
		b.ok(b.CheckScale(b.Ctx, storetest.Tobias, "cure scale", 5*unit.Gram))
		b.ok(b.Kit(b.Ctx, storetest.Tobias, on(one)))
		b.ok(b.Kit(b.Ctx, storetest.Tobias, on(six)))
		for tag, want := range map[string][3]string{one: {"56 g", "28 g", "6.4 g"}, six: {"43 g", "22 g", "4.9 g"}} {
			if k := b.ticket(tag); k.Salt.G(0) != want[0] || k.Sugar.G(0) != want[1] || k.Cure.G(1) != want[2] {
				t.Errorf("%s: ticket %s / %s / %s, want %v", tag, k.Salt.G(0), k.Sugar.G(0), k.Cure.G(1), want)
			}
		}
		b.no(b.CheckCup(b.Ctx, one, six), "120.1 ppm", "204.6 ppm")
		wrong := weighed(b.ticket(one))
		wrong.Cup = six
		b.no(b.WeighOut(b.Ctx, storetest.Tobias, on(one), wrong), "120.1 ppm", "204.6 ppm")
		b.ok(b.CheckCup(b.Ctx, one, one))
		b.ok(b.SeatWeight(b.Ctx, storetest.Tobias, on(one), b.lb("5.55")))
		b.no(b.SeatWeight(b.Ctx, storetest.Tobias, on(one), b.lb("5.50")), "0.12 lb")

		b.ok(b.SwapSlabs(b.Ctx, storetest.Tobias, on(one), on(six)))
		if b.get(one).SeatID == b.get(six).SeatID {
			t.Fatal("both slabs on one seat")
		}
		if k := b.ticket(one); k.JarID != b.jars["GP"] || k.Spice.G(0) != "31 g" || k.Cure.G(1) != "6.4 g" {
			t.Errorf("%s after the swap: %+v", one, k)
		}
		if k := b.ticket(six); k.JarID != b.jars["PB"] || k.Spice.G(0) != "20 g" || k.Cure.G(1) != "4.9 g" {
			t.Errorf("%s after the swap: %+v", six, k)
		}
		w := weighed(b.ticket(six))
		b.no(b.Seal(b.Ctx, storetest.Tobias, on(six), ""), "no passing weigh-out")
		w.Cure, w.Scale = "5", "kitchen scale"
		b.no(b.WeighOut(b.Ctx, storetest.Tobias, on(six), w), "no decimal")
		w.Cure, w.Scale = "5.0", "cure scale"
		b.ok(b.WeighOut(b.Ctx, storetest.Tobias, on(six), w))
		var got shop.WeighOut
		b.rows(func(db *gorm.DB) error { return db.Take(&got, "passed = ?", true).Error })
		if got.PPM.Show() != "159.8 ppm" {
			t.Errorf("5.0 g on 4.31 lb is %s, want 159.8 ppm", got.PPM.Show())
		}
		b.ok(b.Seal(b.Ctx, storetest.Tobias, on(six), ""))
		if un, _ := b.UnsealedTags(b.Ctx, b.classes["B5"].ID); len(un) != 1 || un[0] != one {
			t.Errorf("unsealed: %v", un)
		}
		// Names changed once the spice is on the meat: it stays there.
		b.ok(b.WeighOut(b.Ctx, storetest.Tobias, on(one), weighed(b.ticket(one))))
		b.ok(b.Seal(b.Ctx, storetest.Tobias, on(one), ""))
		b.ok(b.SwapSlabs(b.Ctx, storetest.Tobias, on(one), on(six)))
		if b.get(one).JarID != b.jars["GP"] || b.get(six).JarID != b.jars["PB"] {
			t.Error("the spice of a sealed slab changed on paper")
		}
	})
}

// R23b: under 4.25 lb only with the guest's yes, and $8.00 a pound short of 5.00.
func TestShortSlab(t *testing.T) {
	h := storetest.SQLite(t)
	b := lay(t, h)
	b.Go("2026-10-09 09:00")
	b.class("B1", "2026-10-10 14:00")
	_, tags := b.party(1, "Imke S.", "B1", laid{"PB", "4.20", false})
	b.no(b.CutSlab(b.Ctx, storetest.Tobias, on(tags[0]), store.Cutting{Weight: b.lb("4.20")}), "$6.40")
	b.want(tags[0], shop.Wanted)
	b.ok(b.CutSlab(b.Ctx, storetest.Tobias, on(tags[0]), store.Cutting{Weight: b.lb("4.20"), GuestYes: true}))
	if n := b.count(&shop.Credit{}, "cents = ? AND owner_name = ?", 640, "Imke S."); n != 1 {
		t.Errorf("%d credits of $6.40", n)
	}
	b.no(b.CutSlab(b.Ctx, storetest.Tobias, store.Scan{Tag: tags[0], DoneAt: b.Now() - 600}, store.Cutting{Weight: b.lb("42.0")}), "already")
}

// A slab that lost its belly to others when a cut list was remade is not cut: nothing
// would lead from its bag back to the animal.
func TestASlabWithoutABellyIsNotCut(t *testing.T) {
	b := lay(t, storetest.SQLite(t))
	b.Go("2026-10-09 09:00")
	b.class("B1", "2026-10-10 14:00")
	_, tags := b.party(1, "Imke S.", "B1", laid{"PB", "4.60", false})
	b.rows(func(db *gorm.DB) error {
		return db.Model(&shop.Slab{}).Where("tag = ?", tags[0]).Updates(map[string]any{"belly_id": 0, "piece": 0}).Error
	})
	b.no(b.CutSlab(b.Ctx, storetest.Tobias, on(tags[0]), store.Cutting{Weight: b.lb("4.60")}), "followed back to its animal")
	b.want(tags[0], shop.Wanted)
}

// R44: the same scan by the same device within five minutes counts once; two hands that
// move one slab at the same moment move it once.
func TestARepeatedScanCountsOnce(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		b := lay(t, h)
		b.Go("2026-10-10 14:00")
		b.class("B1", "2026-10-10 14:00")
		_, tags := b.party(1, "Imke S.", "B1", laid{"PB", "4.60", false}, laid{"PB", "4.60", false})
		b.teach(tags...)
		b.Go("2026-10-22 10:00")
		tablet := storetest.Tobias
		tablet.Device = "bench tablet"
		b.ok(b.Rinse(b.Ctx, tablet, on(tags[0]), 0))
		b.Clock.Add(4 * time.Minute)
		b.ok(b.Rinse(b.Ctx, tablet, on(tags[0]), 0))
		if n := b.count(&shop.Step{}, "to_state = ?", shop.Rinsed); n != 1 {
			t.Errorf("%d steps to rinsed, want 1", n)
		}
		other := tablet
		other.Device = "phone"
		b.no(b.Rinse(b.Ctx, other, on(tags[0]), 0), "a colleague was faster")
		b.Clock.Add(2 * time.Minute)
		b.no(b.Rinse(b.Ctx, tablet, on(tags[0]), 0), "already")

		var wg sync.WaitGroup
		errs := make([]error, 8)
		for i := range errs {
			wg.Go(func() {
				by := storetest.Tobias
				by.Device = string(rune('a' + i))
				errs[i] = b.Rinse(b.Ctx, by, on(tags[1]), 0)
			})
		}
		wg.Wait()
		won := 0
		for _, err := range errs {
			if err == nil {
				won++
			} else if !errors.Is(err, shop.ErrMoved) {
				t.Errorf("the slower hand reads %v", err)
			}
		}
		if n := b.count(&shop.Step{}, "to_state = ?", shop.Rinsed); won != 1 || n != 2 {
			t.Errorf("%d of 8 hands moved the slab, %d steps in all", won, n)
		}
	})
}

// A step that is refused during a hold is noted once, though its device sends it eight times
// at once, and every answer says why. The shop's own slab has no party whose row is locked.
func TestARefusedScanSentAtOnceIsNotedOnce(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		b := lay(t, h)
		b.Go("2026-10-10 14:00")
		b.class("B1", "2026-10-10 14:00")
		demo := b.demo("B1", "4.40")
		b.cut(demo)
		_, err := b.OpenHold(b.Ctx, storetest.Odile, "", []string{demo}, "a knife is missing")
		b.ok(err)
		const presses = 40 // each has its chance to go wrong
		for p := range presses {
			var all sync.WaitGroup
			errs := make([]error, 8)
			for i := range errs {
				all.Go(func() { errs[i] = b.Kit(b.Ctx, storetest.Tobias, store.Scan{Tag: demo, Once: fmt.Sprint("press ", p)}) })
			}
			all.Wait()
			for _, err := range errs {
				if !errors.Is(err, shop.ErrOnHold) {
					t.Errorf("the answer is %v", err)
				}
			}
		}
		if n := b.count(&shop.Step{}, "counted = ?", false); n != presses {
			t.Errorf("%d presses noted %d times", presses, n)
		}
	})
}

// W7: scans made without a signal arrive with the times they were done.
func TestAScanThatComesLate(t *testing.T) {
	h := storetest.SQLite(t)
	b := lay(t, h)
	b.Go("2026-10-10 14:00")
	b.class("B1", "2026-10-10 14:00")
	_, tags := b.party(1, "Imke S.", "B1", laid{"PB", "4.60", false})
	b.teach(tags...)
	b.Go("2026-10-22 10:35")
	b.no(b.Rinse(b.Ctx, storetest.Tobias, store.Scan{Tag: tags[0], DoneAt: b.Now() + 600}, 0), "ahead of the shop's clock")
	b.no(b.Rinse(b.Ctx, storetest.Tobias, store.Scan{Tag: tags[0], DoneAt: b.At("2026-10-21 23:59")}, 0), "Thu Oct 22 at the earliest")
	b.ok(b.Rinse(b.Ctx, storetest.Tobias, store.Scan{Tag: tags[0], DoneAt: b.At("2026-10-22 10:00"), Once: "x1"}, 0))
	b.ok(b.Rinse(b.Ctx, storetest.Tobias, store.Scan{Tag: tags[0], DoneAt: b.At("2026-10-22 10:00"), Once: "x1"}, 0))
	var st shop.Step
	b.rows(func(db *gorm.DB) error { return db.Take(&st, "to_state = ?", shop.Rinsed).Error })
	if st.DoneAt != b.At("2026-10-22 10:00") || st.ReceivedAt != b.Now() {
		t.Errorf("step %+v", st)
	}
	b.Go("2026-11-05 10:00")
	_, late := b.party(2, "Raoul D.", "B1", laid{"MC", "4.60", false})
	b.Go("2026-10-10 14:00")
	b.teach(late...)
	b.Go("2026-10-31 10:00")
	b.no(b.Rinse(b.Ctx, storetest.Tobias, on(late[0]), 0), "should have left its bag by Fri Oct 30")
	b.ok(b.Rinse(b.Ctx, storetest.Tobias, store.Scan{Tag: late[0], Reason: "forgotten behind the crate"}, 0))
}

// The guest left after the cure was weighed and before a spice was chosen: the shop's own
// slab gets none, and what was weighed stands on the ticket it is sealed with.
func TestWhatWasWeighedFollowsTheTicket(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		b := lay(t, h)
		b.Go("2026-10-10 14:00")
		b.class("B1", "2026-10-10 14:00")
		_, tags := b.party(1, "Imke S.", "B1", laid{"day", "4.60", false})
		b.cut(tags...)
		b.weigh(tags...)
		b.rows(func(db *gorm.DB) error {
			return db.Exec("UPDATE slabs SET seat_id = 0, revision = revision + 1 WHERE tag = ?", tags[0]).Error
		})
		b.seal(tags...)
		k := b.ticket(tags[0])
		var w []shop.WeighOut
		b.rows(func(db *gorm.DB) error { return db.Find(&w, "ticket_id = ?", k.ID).Error })
		if len(w) != 1 || !w[0].Passed {
			t.Fatalf("weigh-outs of the ticket that counts: %+v", w)
		}
		if n := b.count(&shop.WeighOutLot{}, "weigh_out_id = ?", w[0].ID); n < 3 {
			t.Errorf("%d lots, want curing salt, salt and sugar", n)
		}
		if broken := brokenRules(t, h)["a sealed slab has a weigh-out that passed, with its lots"]; broken != nil {
			t.Error(broken)
		}
	})
}
