package store_test

import (
	"fmt"
	"testing"
	"time"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/heat"
	"flitchbook/planner/unit"
)

// probe is the shop's thermometer.
var probe = shop.Actor{Kind: "staff", Name: "cooler probe", Role: shop.Staff}

// doorAjar is the log of Sun Nov 8: above 41 °F from 02:00 to 07:30, peak 44.8 at 05:15.
var doorAjar = []string{"41.6", "41.9", "42.2", "42.5", "42.8", "43.0", "43.2", "43.5", "43.8", "44.0", "44.3", "44.5", "44.7", "44.8", "44.6", "44.3", "44.0", "43.6", "43.1", "42.6", "42.1", "41.6", "41.2"}

func (b *table) read(room string, at unit.Instant, temp string) []shop.HoldID {
	b.t.Helper()
	v, err := unit.ParseTemp(temp + " F")
	b.ok(err)
	ids, err := b.Readings(b.Ctx, probe, room, []heat.Reading{{At: at, Temp: v}})
	b.ok(err)
	return ids
}

// S-05: the cooler door stood open. B4's 8, B5's 11, Solveig's 2 and Anselm's 1 lie there.
func TestTheCoolerDoorStoodOpen(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		b := lay(t, h)
		plain := func(n int) []laid {
			out := make([]laid, n)
			for i := range out {
				out[i] = laid{"PB", "4.40", false}
			}
			return out
		}
		b.Go("2026-10-24 13:00")
		b.class("B3", "2026-10-24 13:00")
		solveig, k14 := b.party(14, "Solveig A.", "B3", plain(2)...)
		b.teach(k14...)
		b.Go("2026-10-27 17:00")
		_, k15 := b.party(15, "Anselm P.", "B3", plain(1)...)
		b.teach(k15...)
		b.Go("2026-10-31 14:00")
		b.class("B4", "2026-10-31 14:00")
		_, b4 := b.party(19, "Petra M.", "B4", plain(7)...)
		demo := b.demo("B4", "4.40")
		b.cut(demo)
		b.weigh(demo)
		b.seal(demo)
		b.teach(b4...)
		b.Go("2026-11-07 14:00")
		b.class("B5", "2026-11-07 14:00")
		_, b5 := b.party(24, "Tamsin R.", "B5", plain(10)...)
		demo5 := b.demo("B5", "4.40")
		b.teach(append(b5, demo5)...)

		at := b.At("2026-11-08 02:00")
		for i, temp := range doorAjar {
			b.Clock.Set(at + unit.Instant(i*900))
			opened := b.read("cure", b.Now(), temp)
			if again := b.read("cure", b.Now(), temp); again != nil {
				t.Fatal("the same reading opened a hold again")
			}
			// 02:00 to 04:00 is exactly two hours, not more.
			if (len(opened) == 1) != (i == 9) {
				t.Fatalf("reading %d (%s) opened %v", i, b.Now().Show(b.Loc), opened)
			}
		}
		b.Clock.Set(at + unit.Instant(len(doorAjar)*900))
		b.read("cure", b.Now(), "40.7")
		var hold shop.Hold
		b.rows(func(db *gorm.DB) error { return db.Take(&hold).Error })
		if hold.OpenedAt != b.At("2026-11-08 04:15") || hold.State != shop.HoldOpen {
			t.Fatalf("hold %+v", hold)
		}
		if n := b.count(&shop.Slab{}, "state = ?", shop.OnHold); n != 22 {
			t.Errorf("%d slabs on hold, want 22", n)
		}
		alarm := b.notices("kind = ?", shop.NoticeHoldAlarm)
		if len(alarm) != 1 || alarm[0].DueAt != hold.OpenedAt || !alarm[0].Urgent {
			t.Errorf("alarm %+v", alarm)
		}
		// No customer message at night: it waits two days for a decision.
		told := b.notices("kind = ? AND state = ?", shop.NoticeHoldTold, shop.ToSend)
		if len(told) != 4 || told[0].DueAt < hold.OpenedAt+48*3600 {
			t.Errorf("%d customers to be told, first %s", len(told), told[0].DueAt.Show(b.Loc))
		}
		_, err := b.Readings(b.Ctx, probe, "cure", []heat.Reading{{At: at, Temp: unit.TempOfF(40)}})
		b.no(err, "never overwritten")

		b.Go("2026-11-09 09:00")
		b.no(b.Rinse(b.Ctx, storetest.Tobias, on(b4[2]), 0), "on hold since Sun 04:15")
		b.no(b.Rinse(b.Ctx, storetest.Tobias, on(b4[2]), 0), "on hold since Sun 04:15")
		if n := b.count(&shop.Step{}, "counted = ?", false); n != 1 {
			t.Errorf("%d steps noted as not counted, want 1", n)
		}
		b.want(b4[2], shop.OnHold)
		b.no(b.Release(b.Ctx, shop.Itself(), hold.ID, nil, "cold again"), "may not")
		b.no(b.Release(b.Ctx, storetest.Odile, hold.ID, nil, " "), "reason")
		b.Go("2026-11-09 09:40")
		b.ok(b.Release(b.Ctx, storetest.Odile, hold.ID, nil, "Spoke with the inspector at 09:10; every bag tight."))
		b.no(b.Release(b.Ctx, storetest.Odile, hold.ID, nil, "twice"), "decided")
		if n := b.count(&shop.Slab{}, "state = ?", shop.InCure); n != 22 {
			t.Errorf("%d slabs back in cure, want 22", n)
		}
		if n := len(b.notices("kind = ? AND state = ?", shop.NoticeHoldTold, shop.ToSend)); n != 0 {
			t.Errorf("%d customers would still be told", n)
		}
		// The Tuesday load and Wed Nov 11 stand for Solveig and Anselm.
		plan, err := b.PlanLoad(b.Ctx, storetest.Tobias, unit.DayOf(2026, 11, 10))
		b.ok(err)
		if plan.Load.Hooks != 3 {
			t.Errorf("Tuesday's load %+v", plan.Load)
		}
		for _, tag := range append(k14, k15...) {
			b.ok(b.Rinse(b.Ctx, storetest.Tobias, on(tag), 0))
		}
		_ = solveig
	})
}

// R34, branch B of S-05 in small: part released, part dumped, and a hold's slab goes
// nowhere until then; two holds on one slab both have to be decided.
func TestReleaseAndDump(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		b := lay(t, h)
		b.Go("2026-10-10 14:00")
		b.class("B1", "2026-10-10 14:00")
		_, tags := b.party(1, "Imke S.", "B1", laid{"PB", "4.60", false}, laid{"PB", "4.60", false}, laid{"PB", "4.60", false})
		b.teach(tags...)
		b.Go("2026-10-11 10:00")
		_, err := b.OpenHold(b.Ctx, storetest.Nadia, "cure", nil, "")
		b.no(err, "what is wrong")
		first, err := b.OpenHold(b.Ctx, storetest.Nadia, "cure", nil, "smells odd")
		b.ok(err)
		second, err := b.OpenHold(b.Ctx, storetest.Nadia, "", tags[:1], "bag puffed")
		b.ok(err)
		b.ok(b.Release(b.Ctx, storetest.Odile, first, tags[:2], "it was the drain"))
		b.want(tags[0], shop.OnHold) // the other hold still covers it
		b.want(tags[1], shop.InCure)
		b.want(tags[2], shop.OnHold)
		b.ok(b.Dump(b.Ctx, storetest.Odile, second, nil, "leaked, liquid lost"))
		b.want(tags[0], shop.Dumped)
		b.ok(b.Release(b.Ctx, storetest.Odile, first, nil, "it was the drain"))
		b.want(tags[2], shop.InCure)
		if n := b.count(&shop.Hold{}, "state = ?", shop.HoldOpen); n != 0 {
			t.Errorf("%d holds still open", n)
		}
		if n := len(b.notices("kind = ?", shop.NoticeDumped)); n != 1 {
			t.Errorf("%d told of the dumped slab", n)
		}
		if n := b.count(&shop.Placement{}, "until_at = 0"); n != 2 {
			t.Errorf("%d places used, want 2", n)
		}
	})
}

// R44: a step done before the hold but received later is where the slab returns to.
func TestAStepDoneBeforeTheHold(t *testing.T) {
	h := storetest.SQLite(t)
	b := lay(t, h)
	b.Go("2026-10-10 14:00")
	b.class("B1", "2026-10-10 14:00")
	_, tags := b.party(1, "Imke S.", "B1", laid{"PB", "4.60", false}, laid{"PB", "4.60", false})
	b.teach(tags...)
	b.Go("2026-10-22 10:20")
	id, err := b.OpenHold(b.Ctx, storetest.Odile, "cure", nil, "thermometer fell")
	b.ok(err)
	b.Clock.Add(10 * time.Minute)
	b.ok(b.Rinse(b.Ctx, storetest.Tobias, store.Scan{Tag: tags[0], DoneAt: b.At("2026-10-22 10:05")}, 0))
	b.no(b.Rinse(b.Ctx, storetest.Tobias, store.Scan{Tag: tags[1], DoneAt: b.At("2026-10-22 10:25")}, 0), "on hold since Thu 10:20")
	b.want(tags[0], shop.OnHold)
	b.ok(b.Release(b.Ctx, storetest.Odile, id, nil, "checked by hand: 37 F"))
	b.want(tags[0], shop.Rinsed)
	b.want(tags[1], shop.InCure)
}

// S-04: thirty hours too cold. B1's earliest moves to Sat Oct 24, the chain to Mon Oct 26
// and ready about Wed Oct 28; B2's to Nov 2 and Nov 4. Nothing is sent until the owner
// presses, and then once; the calendar entry keeps its UID and its sequence rises by one.
func TestThirtyHoursTooCold(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		b := lay(t, h)
		b.Go("2026-10-10 14:00")
		b.class("B1", "2026-10-10 14:00")
		_, k2 := b.party(2, "Raoul D.", "B1", laid{"MC", "4.60", false})
		_, k1 := b.party(1, "Imke S.", "B1", laid{"PB", "4.60", false}, laid{"JT", "4.60", false})
		b.teach(append(k1, k2...)...)
		b.Go("2026-10-17 14:00")
		b.class("B2", "2026-10-17 14:00")
		_, k9 := b.party(9, "Casper N.", "B2", laid{"PB", "4.60", false})
		b.teach(k9...)
		for at := b.At("2026-10-19 06:00"); at <= b.At("2026-10-20 12:00"); at += 3600 {
			b.Clock.Set(at)
			temp := "32.2"
			if at == b.At("2026-10-20 12:00") {
				temp = "36.0"
			}
			b.read("cure", at, temp)
		}
		for tag, want := range map[string][2]string{k1[0]: {"Sat Oct 24", "Tue Oct 27"}, k2[0]: {"Sat Oct 24", "Tue Oct 27"}, k9[0]: {"Sat Oct 31", "Tue Nov 3"}} {
			if sl := b.get(tag); sl.UnbagFrom.Show() != want[0] || sl.SmokeOn.Show() != want[1] {
				t.Errorf("%s: unbag from %s, smoke %s, want %v", tag, sl.UnbagFrom.Show(), sl.SmokeOn.Show(), want)
			}
		}
		drafts, err := b.DateDrafts(b.Ctx)
		b.ok(err)
		if len(drafts) != 3 || drafts[0].Ref != "K01" || drafts[0].Old.Show() != "Sat Oct 24" || drafts[0].New.Show() != "Wed Oct 28" || drafts[2].New.Show() != "Wed Nov 4" {
			t.Errorf("drafts %+v", drafts)
		}
		if n := len(b.notices("kind = ?", shop.NoticeDateMoved)); n != 0 {
			t.Fatalf("%d messages went by themselves", n)
		}
		uid := fmt.Sprintf("ready-%d@corbel.example.test", drafts[0].Booking)
		var before, after shop.Entry
		b.rows(func(db *gorm.DB) error { return db.Take(&before, "uid = ?", uid).Error })
		_, err = b.TellDates(b.Ctx, storetest.Tobias)
		b.no(err, "may not")
		for i, want := range []int{3, 0} {
			if n, err := b.TellDates(b.Ctx, storetest.Odile); n != want || err != nil {
				t.Errorf("press %d told %d (%v), want %d", i+1, n, err, want)
			}
		}
		if n := len(b.notices("kind = ?", shop.NoticeDateMoved)); n != 3 {
			t.Errorf("%d messages, want 3", n)
		}
		b.rows(func(db *gorm.DB) error { return db.Take(&after, "uid = ?", uid).Error })
		if after.Sequence != before.Sequence+1 || after.Day.Show() != "Wed Oct 28" {
			t.Errorf("entry %+v, was %+v", after, before)
		}
		b.no(b.Rinse(b.Ctx, storetest.Tobias, on(k1[0]), 0), "Sat Oct 24 at the earliest (day 14)")
	})
}
