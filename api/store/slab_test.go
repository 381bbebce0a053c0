package store_test

import (
	"fmt"
	"path/filepath"
	"slices"
	"testing"

	"gorm.io/gorm"
	"pgregory.net/rapid"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/unit"
)

// What a person could do to a slab, in any order: every step either follows the table of
// moves and leaves one counted record, or changes nothing. While a hold is open nothing
// moves at all.
func TestStepsInAnyOrder(t *testing.T) {
	n, reached := 0, map[shop.SlabState]int{}
	rapid.Check(t, func(rt *rapid.T) {
		n++
		if n > 25 {
			return // each run furnishes a shop of its own
		}
		h := storetest.Open(t, "sqlite:"+filepath.Join(t.TempDir(), fmt.Sprintf("shop%d.db", n)))
		b := lay(t, h)
		b.Go("2026-10-10 14:00")
		b.class("B1", "2026-10-10 14:00")
		id, tags := b.party(1, "Imke S.", "B1", laid{"MH", "4.60", false}, laid{"PB", "4.60", false})
		b.ok(b.CheckScale(b.Ctx, storetest.Tobias, "cure scale", 5*unit.Gram))
		var hold shop.HoldID
		model := map[string]shop.SlabState{tags[0]: shop.Wanted, tags[1]: shop.Wanted}
		ctx, by := b.Ctx, storetest.Tobias
		steps := map[string]func(tag string) error{
			"cut":  func(tag string) error { return b.CutSlab(ctx, by, on(tag), store.Cutting{Weight: b.lb("4.60")}) },
			"kit":  func(tag string) error { return b.Kit(ctx, by, on(tag)) },
			"seal": func(tag string) error { return b.Seal(ctx, by, on(tag), "") },
			"weigh": func(tag string) error {
				w := store.Weighed{Salt: "46", Sugar: "23", Cure: "5.2", Scale: "cure scale", Spice: "21"}
				return b.WeighOut(ctx, by, on(tag), w)
			},
			"rinse": func(tag string) error { return b.Rinse(ctx, by, store.Scan{Tag: tag, Reason: "tried"}, 0) },
			"plan":  func(string) error { _, err := b.PlanLoad(ctx, by, b.Today()); return err },
			"hang":  func(tag string) error { return b.Hang(ctx, by, on(tag), "") },
			"out":   func(tag string) error { return b.OutOfSmoke(ctx, by, on(tag), unit.TempOfF(146)) },
			"pack":  func(tag string) error { return b.Pack(ctx, by, on(tag), b.lb("3.90")) },
			"shelve": func(tag string) error {
				return b.Shelve(ctx, by, on(tag), "")
			},
			"freeze": func(tag string) error { return b.ToFreezer(ctx, by, on(tag), "") },
			"collect": func(tag string) error {
				return b.Collect(ctx, by, store.Handing{Booking: id, To: "Imke S.", Tags: []string{tag}})
			},
			"hold": func(tag string) (err error) {
				hold, err = b.OpenHold(ctx, by, "", []string{tag}, "looks odd")
				return err
			},
			"release": func(string) error { return b.Release(ctx, by, hold, nil, "it is well") },
			"dump":    func(string) error { return b.Dump(ctx, by, hold, nil, "it is not") },
			"later":   func(string) error { b.Clock.Set(b.Now() + 86400); return nil },
			"wait":    func(string) error { b.Clock.Set(b.Now() + 13*86400); return nil },
		}
		names := []string{"cut", "kit", "weigh", "seal", "rinse", "plan", "hang", "out", "pack", "shelve", "freeze", "collect", "hold", "release", "release", "dump", "later", "later", "later"}
		slices.Sort(names)
		for range rapid.IntRange(5, 60).Draw(rt, "steps") {
			name := rapid.SampledFrom(names).Draw(rt, "step")
			tag := rapid.SampledFrom(tags).Draw(rt, "tag")
			if rapid.IntRange(0, 2).Draw(rt, "right") > 0 { // mostly what comes next
				name = next[model[tag]]
			}
			before := b.count(&shop.Step{}, "counted = ? AND from_state <> to_state", true)
			switch { // a hand mostly does what the step needs beforehand
			case name == "seal" && model[tag] == shop.Kitted:
				_ = b.CheckScale(ctx, by, "cure scale", 5*unit.Gram)
				_ = steps["weigh"](tag)
			case name == "hang" && model[tag] == shop.Rinsed:
				_ = steps["plan"](tag)
			case name == "rinse" && model[tag] == shop.InCure:
				_ = steps["wait"](tag)
			case name == "pack" && model[tag] == shop.Resting:
				_ = b.AnswerChill(ctx, by, b.get(tag).SmokeOn, "below 40 F at the thickest by the hand thermometer")
			}
			err := steps[name](tag)
			reached[model[tag]]++
			if err != nil {
				if _, ok := shop.AsError(err); !ok {
					rt.Fatalf("%s %s: a fault: %v", name, tag, err)
				}
			}
			moved := int64(0)
			for _, x := range tags {
				sl := b.get(x)
				was := model[x]
				if sl.State == was {
					continue
				}
				moved++
				if err != nil {
					rt.Fatalf("%s %s was refused (%v) and moved %s from %q to %q", name, tag, err, x, was, sl.State)
				}
				if !shop.SlabMoves.May(was, sl.State) {
					rt.Fatalf("%s moved %s from %q to %q, which the table forbids", name, x, was, sl.State)
				}
				if was == shop.OnHold && name != "release" && name != "dump" {
					rt.Fatalf("%s moved %s out of its hold", name, x)
				}
				if (sl.HeldFrom != "") != (sl.State == shop.OnHold) {
					rt.Fatalf("%s is %q, held from %q", x, sl.State, sl.HeldFrom)
				}
				model[x] = sl.State
			}
			if after := b.count(&shop.Step{}, "counted = ? AND from_state <> to_state", true); after != before+moved {
				rt.Fatalf("%s %s moved %d slabs and left %d records", name, tag, moved, after-before)
			}
		}
		// What lies in a cure bag or later has a passing weigh-out and its lots.
		b.rows(func(db *gorm.DB) error {
			var sealed []shop.Slab
			if err := db.Where("sealed_on IS NOT NULL").Find(&sealed).Error; err != nil {
				return err
			}
			for _, sl := range sealed {
				var lots int64
				err := db.Raw("SELECT count(*) FROM weigh_out_lots wl JOIN weigh_outs w ON w.id = wl.weigh_out_id WHERE w.slab_id = ? AND w.passed = ?", sl.ID, true).Scan(&lots).Error
				if err != nil || lots < 4 {
					rt.Fatalf("%s is sealed with %d lots on record (%v)", sl.Tag, lots, err)
				}
			}
			return nil
		})
	})
	for _, st := range []shop.SlabState{shop.InCure, shop.InSmoke, shop.OnShelf, shop.OnHold, shop.Collected} {
		if reached[st] == 0 {
			t.Errorf("no run came as far as %q: the test tries too little", st)
		}
	}
}

// next is the step people mostly take.
var next = map[shop.SlabState]string{
	shop.Wanted: "cut", shop.Cut: "kit", shop.Kitted: "seal", shop.InCure: "rinse", shop.Rinsed: "hang", shop.InSmoke: "out",
	shop.Resting: "pack", shop.Packed: "shelve", shop.OnShelf: "collect", shop.InFreezer: "collect", shop.OnHold: "release", shop.Collected: "later", shop.Dumped: "later",
}

// Steps of several devices arrive in any order: one that comes before the step it follows
// says so and may be tried again; a reading done earlier does not undo a later one; and
// what was done during a hold does not count, even when the hold is over by then (R44).
func TestLateSteps(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		b := lay(t, h)
		b.Go("2026-10-10 13:00")
		b.class("B1", "2026-10-10 14:00")
		_, tags := b.party(1, "Imke S.", "B1", laid{"PB", "4.60", false}, laid{"GP", "4.50", false})
		one, two := tags[0], tags[1]
		b.cut(tags...)
		left, right := storetest.Tobias, storetest.Nadia
		left.Device, right.Device = "left", "right"
		at := func(clock, tag string) store.Scan {
			return store.Scan{Tag: tag, DoneAt: b.At("2026-10-10 " + clock), Once: clock + tag}
		}
		code := func(err error, want string) {
			t.Helper()
			if e, ok := shop.AsError(err); !ok || e.Code != want {
				t.Errorf("%v, want the code %s", err, want)
			}
		}
		b.Go("2026-10-10 15:00")
		// Seal and weigh-out of one device, kit and scale check of the other, which comes last.
		w := store.Weighed{Salt: "46", Sugar: "23", Cure: "5.2", Spice: "21", Scale: "cure scale"}
		code(b.Seal(b.Ctx, left, at("14:40", one), ""), "not_yet")
		code(b.WeighOut(b.Ctx, left, at("14:30", one), w), "not_yet")
		b.ok(b.Kit(b.Ctx, right, at("14:05", one)))
		code(b.Seal(b.Ctx, left, at("14:40", one), ""), "no_weigh_out")
		b.no(b.WeighOut(b.Ctx, left, at("14:30", one), w), "not checked")
		b.ok(b.CheckScaleAt(b.Ctx, right, "cure scale", 5*unit.Gram, b.At("2026-10-10 14:10")))
		b.ok(b.CheckScaleAt(b.Ctx, right, "cure scale", 5*unit.Gram, b.At("2026-10-10 14:10")))
		if n := b.count(&shop.ScaleCheck{}, "1 = 1"); n != 1 {
			t.Errorf("one check sent twice is kept %d times", n)
		}
		b.ok(b.WeighOut(b.Ctx, left, at("14:30", one), w))
		// A weigh-out done before the one that passed arrives after it: the later one stands.
		bad := w
		bad.Cure = "7.0"
		b.no(b.WeighOut(b.Ctx, left, at("14:20", one), bad), "stop")
		b.ok(b.SeatWeight(b.Ctx, left, at("14:25", one), b.lb("4.63")))
		b.ok(b.SeatWeight(b.Ctx, right, at("14:15", one), b.lb("4.57")))
		if got := b.get(one).AtSeat; got != b.lb("4.63") {
			t.Errorf("the seat weight is %s, 4.63 lb was weighed last", got.LB())
		}
		for range 2 {
			b.ok(b.Seal(b.Ctx, left, at("14:40", one), ""))
		}
		b.want(one, shop.InCure)
		code(b.Kit(b.Ctx, left, at("14:50", one)), "no_such_move")

		// A device whose clock is a day slow would let a slab out of its bag a day early.
		slow := store.Scan{Tag: two, DoneAt: b.At("2026-10-09 12:00"), Once: "slow"}
		code(b.Kit(b.Ctx, left, slow), "clock_slow")

		// Held from 15:00 to 15:30. Done at 14:45, received at 15:10: counts beneath the hold.
		id, err := b.OpenHold(b.Ctx, storetest.Odile, "", []string{two}, "the floor was wet")
		b.ok(err)
		b.Go("2026-10-10 15:10")
		b.ok(b.Kit(b.Ctx, left, at("14:44", two)))
		b.ok(b.WeighOut(b.Ctx, left, at("14:45", two), store.Weighed{Salt: "45", Sugar: "22", Cure: "5.1", Spice: "24", Scale: "cure scale"}))
		code(b.Seal(b.Ctx, left, at("15:05", two), ""), "on_hold")
		code(b.WeighOut(b.Ctx, left, at("15:06", two), w), "on_hold")
		if sl := b.get(two); sl.State != shop.OnHold || sl.HeldFrom != shop.Kitted {
			t.Errorf("%s returns to %s", sl.State, sl.HeldFrom)
		}
		hs, err := b.Holds(b.Ctx)
		b.ok(err)
		if len(hs) != 1 || len(hs[0].Refused) != 2 || hs[0].Refused[0].Tag != two || hs[0].Refused[1].What != "weigh-out" {
			t.Fatalf("whoever releases sees %+v", hs)
		}
		b.Go("2026-10-10 15:30")
		b.ok(b.Release(b.Ctx, storetest.Odile, id, nil, "dry now"))
		b.want(two, shop.Kitted)
		b.Go("2026-10-10 15:40")
		// Done at 15:20, while it was held, and heard of only now.
		code(b.Seal(b.Ctx, right, at("15:20", two), ""), "on_hold")
		b.no(b.Seal(b.Ctx, right, at("15:20", two), ""), "from Sat 15:00 to Sat 15:30")
		b.want(two, shop.Kitted)
		b.ok(b.Seal(b.Ctx, right, at("15:35", two), ""))
		b.want(two, shop.InCure)

		sheet, err := b.BenchSheet(b.Ctx)
		b.ok(err)
		if len(sheet.Slabs) != 2 || sheet.Slabs[0].State != shop.InCure || !sheet.Scales[0].Checked {
			t.Errorf("bench sheet: %+v", sheet)
		}
	})
}
