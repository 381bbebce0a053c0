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
		defer h.Store.Close()
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
