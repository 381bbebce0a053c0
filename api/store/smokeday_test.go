package store_test

import (
	"testing"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/heat"
	"flitchbook/planner/unit"
)

// hung brings two plain slabs of one party to the smoke day and leaves them on their hooks.
func (b *table) hung() (one, two string) {
	b.t.Helper()
	b.Go("2026-10-24 13:00")
	b.class("B3", "2026-10-24 13:00")
	_, tags := b.party(14, "Solveig A.", "B3", laid{"PB", "4.40", false}, laid{"MC", "4.40", false})
	b.teach(tags...)
	b.Go("2026-11-05 10:00")
	_, err := b.PlanLoad(b.Ctx, storetest.Tobias, unit.DayOf(2026, 11, 6))
	b.ok(err)
	for _, tag := range tags {
		b.ok(b.Rinse(b.Ctx, storetest.Tobias, on(tag), 0))
	}
	b.no(b.CheckPairing(b.Ctx, storetest.Tobias, tags[0], "H9"), "only what hangs")
	b.Go("2026-11-06 08:00")
	for _, tag := range tags {
		b.ok(b.Hang(b.Ctx, storetest.Tobias, on(tag), ""))
	}
	return tags[0], tags[1]
}

// A slab and its hook are looked at a second time: the wrong hook is refused with what
// hangs where, an unknown one is no hook, and the same look twice is one line of history.
func TestCheckPairing(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		b := lay(t, h)
		one, two := b.hung()
		day := b.Today()
		hooks := map[string]string{}
		sh, err := b.SmokeSheet(b.Ctx, day)
		b.ok(err)
		for _, l := range sh.Lines {
			hooks[l.Tag] = l.Hook
		}
		if len(sh.Unchecked) != 2 || hooks[one] == "" || hooks[one] == hooks[two] {
			t.Fatalf("before the look: %+v", sh)
		}
		b.no(b.CheckPairing(b.Ctx, storetest.Tobias, one, hooks[two]), one+" hangs on "+hooks[one], "on "+hooks[two]+" hangs "+two)
		b.no(b.CheckPairing(b.Ctx, storetest.Tobias, one, "H24"), "on H24 hangs nothing")
		b.no(b.CheckPairing(b.Ctx, storetest.Tobias, one, "H99"), "H99")
		b.no(b.CheckPairing(b.Ctx, storetest.Tobias, "B3-99", hooks[one]), "could not be found")
		if n := b.count(&shop.History{}, "what = ?", "pairing checked"); n != 0 {
			t.Errorf("refused, and %d lines of history", n)
		}
		for range 2 {
			b.ok(b.CheckPairing(b.Ctx, storetest.Nadia, one, hooks[one]))
		}
		sh, err = b.SmokeSheet(b.Ctx, day)
		b.ok(err)
		if len(sh.Unchecked) != 1 || sh.Unchecked[0] != two {
			t.Errorf("still to check: %v", sh.Unchecked)
		}
		for _, l := range sh.Lines {
			if (l.Tag == one) != (l.CheckedBy == "Nadia") || l.Tag == one && l.CheckedAt != b.Now() {
				t.Errorf("looked at: %+v", l)
			}
		}
		if n := b.count(&shop.History{}, "what = ?", "pairing checked"); n != 1 {
			t.Errorf("%d lines of history, want 1", n)
		}
	})
}

// A line of the log is corrected by another; the first stays to be read, struck out, cannot
// be corrected twice, and no longer counts. 88 °F at 17:20 makes the fall from 135 to 70 °F
// slower than two hours (Food Code 3-501.14, as the planner quotes it).
func TestCorrectLine(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		b := lay(t, h)
		one, two := b.hung()
		day := b.Today()
		b.Go("2026-11-06 15:30")
		for _, tag := range []string{one, two} {
			b.ok(b.OutOfSmoke(b.Ctx, storetest.Tobias, on(tag), unit.TempOfF(146)))
		}
		b.Go("2026-11-06 22:00")
		b.ok(b.AddLines(b.Ctx, storetest.Tobias, day, shop.ChillPhase, b.lines("16:00 118", "17:20 67", "18:15 50", "20:00 40")))
		before, err := b.LoadLog(b.Ctx, day)
		b.ok(err)
		if before.Chill.Outcome != heat.Pass {
			t.Fatalf("before: %+v", before.Chill)
		}
		line := func(log *store.LoadLog, f float64) store.LogLine {
			for _, l := range log.Lines {
				if l.Phase == shop.ChillPhase && l.Core != nil && *l.Core == unit.TempOfF(f) {
					return l
				}
			}
			t.Fatalf("no line of %v °F in %+v", f, log.Lines)
			return store.LogLine{}
		}
		old, warm := line(before, 67), unit.TempOfF(88)
		in := store.LineIn{Core: &warm}
		b.no(b.CorrectLine(b.Ctx, storetest.Tobias, day, old.ID, in, " "), "Say what was wrong")
		b.no(b.CorrectLine(b.Ctx, storetest.Tobias, day, old.ID+1000, in, "misread"), "could not be found")
		b.no(b.CorrectLine(b.Ctx, storetest.Tobias, day+4, old.ID, in, "misread"), "could not be found")
		hot := unit.TempOfF(400)
		b.no(b.CorrectLine(b.Ctx, storetest.Tobias, day, old.ID, store.LineIn{Core: &hot}, "misread"), "cannot be the core")
		if same, err := b.LoadLog(b.Ctx, day); err != nil || len(same.Lines) != len(before.Lines) {
			t.Errorf("refused, and there are %d lines, %v", len(same.Lines), err)
		}
		b.ok(b.CorrectLine(b.Ctx, storetest.Nadia, day, old.ID, in, "read off the wrong probe"))
		after, err := b.LoadLog(b.Ctx, day)
		b.ok(err)
		fresh := line(after, 88)
		if !line(after, 67).Struck || fresh.Struck || fresh.At != old.At || fresh.Corrects != old.ID || fresh.Actor != "Nadia" || fresh.Reason != "read off the wrong probe" {
			t.Errorf("corrected: %+v", after.Lines)
		}
		if after.Chill.Outcome != heat.Fail {
			t.Errorf("corrected, the chill is %+v", after.Chill)
		}
		b.no(b.CorrectLine(b.Ctx, storetest.Tobias, day, old.ID, in, "again"), "corrected already")
		// Without a temperature a line is only struck out, and what strikes is no line to correct.
		b.ok(b.CorrectLine(b.Ctx, storetest.Tobias, day, fresh.ID, store.LineIn{}, "nobody read then"))
		last, err := b.LoadLog(b.Ctx, day)
		b.ok(err)
		strikes := last.Lines[len(last.Lines)-1].ID
		for _, l := range last.Lines {
			if l.Corrects == fresh.ID {
				strikes = l.ID
			}
		}
		if !line(last, 88).Struck {
			t.Errorf("struck out: %+v", last.Lines)
		}
		b.no(b.CorrectLine(b.Ctx, storetest.Tobias, day, strikes, in, "again"), "only strikes another out")
	})
}

// Fri Nov 6 is closed for production on Wednesday: the load planned for it is dropped, its
// slabs go to Tue Nov 10, one draft waits and nobody is written to. With slabs out of their
// bags the load must go on, and the day is not closed.
func TestCloseForWork(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		b := lay(t, h)
		b.Go("2026-10-24 13:00")
		b.class("B3", "2026-10-24 13:00")
		_, tags := b.party(14, "Solveig A.", "B3", laid{"PB", "4.40", false}, laid{"MC", "4.40", false})
		b.teach(tags...)
		b.Go("2026-11-04 09:00")
		friday, tuesday := unit.DayOf(2026, 11, 6), unit.DayOf(2026, 11, 10)
		_, err := b.PlanLoad(b.Ctx, storetest.Tobias, friday)
		b.ok(err)
		told := b.count(&shop.Notice{}, "1 = 1")
		shut := func(by shop.Actor, day unit.Day, why string) error {
			_, err := b.CloseForWork(b.Ctx, by, day, why)
			return err
		}
		b.no(shut(storetest.Tobias, friday, "the flue is swept"), "may not")
		b.no(shut(storetest.Odile, b.Today(), "the flue is swept"), "Only a day to come")
		b.no(shut(storetest.Odile, friday, " "), "Say why")
		if n := b.count(&shop.ClosedDay{}, "day = ?", friday); n != 0 {
			t.Errorf("refused, and the day is closed")
		}
		dropped, err := b.CloseForWork(b.Ctx, storetest.Odile, friday, "the flue is swept")
		b.ok(err)
		if len(dropped) != 1 || dropped[0] != friday {
			t.Errorf("dropped %v", dropped)
		}
		b.no(shut(storetest.Odile, friday, "twice"), "closed already", "the flue is swept")
		_, err = b.PlanLoad(b.Ctx, storetest.Tobias, friday)
		b.no(err, "closed")
		for _, tag := range tags {
			if sl := b.get(tag); sl.State != shop.InCure || sl.ReadyOn != friday+1 { // as promised, until the owner tells
				t.Errorf("%s: %s, ready %s", tag, sl.State, sl.ReadyOn.Show())
			}
		}
		drafts, err := b.DateDrafts(b.Ctx)
		b.ok(err)
		if len(drafts) != 1 || drafts[0].Ref != "K14" || drafts[0].Old.Show() != "Sat Nov 7" || drafts[0].New.Show() != "Wed Nov 11" {
			t.Errorf("drafts %+v", drafts)
		}
		if n := b.count(&shop.Notice{}, "1 = 1"); n != told {
			t.Errorf("closing a day wrote %d notices", n-told)
		}
		b.Go("2026-11-09 10:00")
		_, err = b.PlanLoad(b.Ctx, storetest.Tobias, tuesday)
		b.ok(err)
		b.ok(b.Rinse(b.Ctx, storetest.Tobias, on(tags[0]), 0))
		b.no(shut(storetest.Odile, tuesday, "the flue again"), tags[0])
		if n := b.count(&shop.ClosedDay{}, "day = ?", tuesday); n != 0 {
			t.Errorf("with a slab out of its bag the day is closed")
		}
	})
}
