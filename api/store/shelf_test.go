package store_test

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
)

// S-09: the bacon nobody fetches.
func TestTheBaconNobodyFetches(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		b := lay(t, h)
		b.Go("2026-10-31 14:00")
		b.class("B4", "2026-10-31 14:00")
		ignace, tags := b.party(20, "Ignace V.", "B4", laid{"GP", "4.40", false})
		b.teach(tags...)
		b.smoked("2026-11-12", "2026-11-13", tags...)
		b.Go("2026-11-14 11:00")
		b.no(b.Pack(b.Ctx, storetest.Nadia, on(tags[0]), b.lb("4.30")), "97.7", "suspect a swapped tag")
		b.no(b.Pack(b.Ctx, storetest.Nadia, on(tags[0]), b.lb("3.40")), "77.3", "write why")
		b.no(b.Pack(b.Ctx, storetest.Nadia, on(tags[0]), b.lb("4.41")), "may not be called bacon")
		b.pack(tags...)
		if n := len(b.notices("kind = ?", shop.NoticeReady)); n != 0 {
			t.Fatal("told ready at packing")
		}
		if sl := b.get(tags[0]); sl.UseBy.Show() != "Sat Dec 5" {
			t.Errorf("use by %s", sl.UseBy.Show())
		}
		b.Go("2026-11-14 15:20")
		b.no(b.Shelve(b.Ctx, storetest.Nadia, on(tags[0]), "R1"), "no such place")
		b.ok(b.Shelve(b.Ctx, storetest.Nadia, on(tags[0]), "d3"))
		b.ok(b.Shelve(b.Ctx, storetest.Nadia, on(tags[0]), "D3"))
		ready := b.notices("kind = ?", shop.NoticeReady)
		if len(ready) != 1 || ready[0].DueAt != b.Now() {
			t.Fatalf("ready %+v", ready)
		}
		var got []string
		for _, n := range b.notices("kind IN ? AND state = ?", []string{shop.NoticeCollect, shop.NoticeFreezer, shop.NoticeFinal, shop.NoticeOwnerTask}, shop.ToSend) {
			got = append(got, n.Kind+" "+n.DueAt.Show(b.Loc))
		}
		want := []string{"collect Tue Nov 17, 10:00", "collect Sat Nov 21, 10:00", "collect Tue Nov 24, 10:00", "collect Sat Nov 28, 10:00",
			"freezer Sat Nov 28, 18:00", "final Wed Dec 30, 10:00", "owner-task Wed Jan 13, 10:00"}
		if !slices.Equal(got, want) {
			t.Errorf("reminders %v, want %v", got, want)
		}
		// The calendar entry became opening hours.
		var e shop.Entry
		b.rows(func(db *gorm.DB) error { return db.Take(&e, "kind = ?", "ready").Error })
		if e.Day != 0 || e.StartsAt != b.Now() || e.EndsAt != b.At("2026-11-14 18:00") {
			t.Errorf("entry %+v", e)
		}
		// To the freezer, then he comes after all: every later message is gone.
		b.Go("2026-11-28 18:00")
		sent := func(context.Context, shop.Notice, shop.Facts) error { return nil }
		if _, err := b.Deliver(b.Ctx, sent); err != nil {
			t.Fatal(err)
		}
		b.ok(b.ToFreezer(b.Ctx, storetest.Nadia, on(tags[0]), ""))
		b.want(tags[0], shop.InFreezer)
		if sl := b.get(tags[0]); sl.UseBy.Show() != "Sun Feb 28" {
			t.Errorf("frozen, use by %s", sl.UseBy.ShowYear())
		}
		b.Go("2026-12-19 12:00")
		b.ok(b.Collect(b.Ctx, storetest.Nadia, store.Handing{Booking: ignace, To: "Ignace", Tags: tags}))
		b.want(tags[0], shop.Collected)
		b.Go("2027-03-01 12:00")
		if _, err := b.Deliver(b.Ctx, sent); err != nil {
			t.Fatal(err)
		}
		for _, n := range b.notices("kind IN ? AND state = ?", []string{shop.NoticeFinal, shop.NoticeOwnerTask}, shop.Sent) {
			t.Errorf("%s was sent after he had it", n.Kind)
		}
		if n := len(b.notices("kind = ?", shop.NoticeCollected)); n != 1 {
			t.Errorf("%d thanks", n)
		}
	})
}

// R36: 78 to 95 % of green. Outside it stops and is kept; the other slabs the weight would
// fit are named, for two tags may have been swapped; weighed again, it may stand with a
// reason, and over green it may not stand at all.
func TestFinishedWeightStops(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		b := lay(t, h)
		b.Go("2026-10-24 13:00")
		b.class("B3", "2026-10-24 13:00")
		_, two := b.party(14, "Solveig A.", "B3", laid{"PB", "4.40", false}, laid{"MC", "5.60", false})
		b.teach(two...)
		b.smoked("2026-11-05", "2026-11-06", two...)
		b.Go("2026-11-07 15:00")
		why := on(two[1])
		why.Reason = "lean end, dried hard"
		b.no(b.Pack(b.Ctx, storetest.Nadia, why, b.lb("3.74")), "66.8", "It would fit "+two[0]+" (4.40 lb green)")
		b.want(two[1], shop.Resting)
		b.Go("2026-11-07 15:05")
		b.no(b.Pack(b.Ctx, storetest.Nadia, on(two[1]), b.lb("3.74")), "Weighed twice and the same?", "write why")
		b.no(b.Pack(b.Ctx, storetest.Nadia, on(two[0]), b.lb("4.76")), "may not be called bacon", "It would fit "+two[1])
		over := on(two[0])
		over.Reason = "says so twice"
		b.no(b.Pack(b.Ctx, storetest.Nadia, over, b.lb("4.76")), "may not be called bacon")
		b.want(two[0], shop.Resting)
		b.Go("2026-11-07 15:10")
		b.ok(b.Pack(b.Ctx, storetest.Nadia, why, b.lb("3.74")))
		b.ok(b.Pack(b.Ctx, storetest.Nadia, on(two[0]), b.lb("3.74")))
		var steps []shop.Step
		b.rows(func(db *gorm.DB) error {
			return db.Where("slab_id = (SELECT id FROM slabs WHERE tag = ?) AND reading LIKE ?", two[1], "%lb%").Order("id").Find(&steps).Error
		})
		last := steps[len(steps)-1]
		if last.Reason != "lean end, dried hard" || !strings.Contains(last.Reading, "3.74 lb, outside 78 % to 95 % of green, weighed twice") || !last.Counted {
			t.Errorf("the packing says %+v", last)
		}
		stopped := 0
		for _, s := range steps {
			if !s.Counted && strings.HasPrefix(s.Reading, "stopped: 3.74 lb of 5.60 lb green") {
				stopped++
			}
		}
		if stopped != 2 {
			t.Errorf("%d weighings that stopped are on record, want 2", stopped)
		}
	})
}

// R37 and M14: told once, when the last packet of the party is scanned; the hand-over
// needs both, and a third says "not hers".
func TestReadyAndHandOver(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		b := lay(t, h)
		b.Go("2026-10-24 13:00")
		b.class("B3", "2026-10-24 13:00")
		solveig, two := b.party(14, "Solveig A.", "B3", laid{"PB", "4.40", false}, laid{"MC", "4.40", false})
		other, one := b.party(17, "Hadley Q.", "B3", laid{"PL", "4.40", false})
		all := append(append([]string{}, two...), one...)
		b.teach(all...)
		b.smoked("2026-11-05", "2026-11-06", all...)
		b.Go("2026-11-07 15:20")
		b.pack(all...)
		b.ok(b.Shelve(b.Ctx, storetest.Nadia, on(two[0]), "C2"))
		if n := len(b.notices("kind = ?", shop.NoticeReady)); n != 0 {
			t.Error("told with one packet of two on the shelf")
		}
		b.no(b.Shelve(b.Ctx, storetest.Nadia, on(two[1]), "C2"), "taken")
		b.ok(b.Shelve(b.Ctx, storetest.Nadia, on(two[1]), ""))
		b.ok(b.Shelve(b.Ctx, storetest.Nadia, on(one[0]), ""))
		ready := b.notices("kind = ? AND subject_id = ?", shop.NoticeReady, solveig)
		if len(ready) != 1 || ready[0].ToAddr != "solveig@post.example.test" {
			t.Fatalf("ready %+v", ready)
		}
		hand := store.Handing{Booking: solveig, To: "solveig a", Tags: two}
		some := hand
		some.Tags = two[:1]
		b.no(b.Collect(b.Ctx, storetest.Nadia, some), two[1], "Scan every packet")
		some.Tags = append(append([]string{}, two...), one[0])
		b.no(b.Collect(b.Ctx, storetest.Nadia, some), one[0]+" is not Solveig A.'s")
		some = hand
		some.To = "Eskil"
		b.no(b.Collect(b.Ctx, storetest.Nadia, some), "no one else is named")
		for _, tag := range all {
			b.want(tag, shop.OnShelf)
		}
		b.ok(b.Collect(b.Ctx, storetest.Nadia, hand))
		b.ok(b.Collect(b.Ctx, storetest.Nadia, hand))
		for _, tag := range two {
			b.want(tag, shop.Collected)
		}
		b.want(one[0], shop.OnShelf)
		if n := len(b.notices("kind = ? AND state = ? AND subject_id = ?", shop.NoticeCollect, shop.ToSend, solveig)); n != 0 {
			t.Errorf("%d reminders left after collecting", n)
		}
		if n := len(b.notices("kind = ? AND state = ? AND subject_id = ?", shop.NoticeCollect, shop.ToSend, other)); n != 4 {
			t.Errorf("%d reminders of the other party, want 4", n)
		}
		// C2 is free again.
		if n := b.count(&shop.Placement{}, "until_at = 0"); n != 1 {
			t.Errorf("%d places used, want 1", n)
		}
	})
}

// Two people shelve the last two packets of a party at the same moment: told once.
func TestReadyIsToldOnceWhateverTheRace(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		b := lay(t, h)
		b.Go("2026-10-24 13:00")
		b.class("B3", "2026-10-24 13:00")
		_, two := b.party(14, "Solveig A.", "B3", laid{"PB", "4.40", false}, laid{"MC", "4.40", false})
		b.teach(two...)
		b.smoked("2026-11-05", "2026-11-06", two...)
		b.Go("2026-11-07 15:20")
		b.pack(two...)
		errs := make(chan error, 2)
		for i, tag := range two {
			go func() { errs <- b.Shelve(b.Ctx, storetest.Nadia, on(tag), []string{"A1", "A2"}[i]) }()
		}
		for range two {
			b.ok(<-errs)
		}
		if n := len(b.notices("kind = ?", shop.NoticeReady)); n != 1 {
			t.Errorf("told %d times, want once", n)
		}
	})
}

// A hold on the shelf calls the chase off; the release takes it up again, and tells
// nobody twice.
func TestHoldOnTheShelf(t *testing.T) {
	h := storetest.SQLite(t)
	b := lay(t, h)
	b.Go("2026-10-24 13:00")
	b.class("B3", "2026-10-24 13:00")
	id, two := b.party(14, "Solveig A.", "B3", laid{"PB", "4.40", false}, laid{"MC", "4.40", false})
	b.teach(two...)
	b.smoked("2026-11-05", "2026-11-06", two...)
	b.Go("2026-11-07 15:20")
	b.pack(two...)
	for _, tag := range two {
		b.ok(b.Shelve(b.Ctx, storetest.Nadia, on(tag), ""))
	}
	if _, err := b.Deliver(b.Ctx, func(context.Context, shop.Notice, shop.Facts) error { return nil }); err != nil {
		t.Fatal(err)
	}
	b.Go("2026-11-09 12:00")
	hold, err := b.OpenHold(b.Ctx, storetest.Odile, "counter", nil, "case was warm")
	b.ok(err)
	if n := len(b.notices("kind = ? AND state = ?", shop.NoticeCollect, shop.ToSend)); n != 0 {
		t.Errorf("%d people asked to fetch what is on hold", n)
	}
	b.no(b.Collect(b.Ctx, storetest.Nadia, store.Handing{Booking: id, To: "Solveig A.", Tags: two}), "on hold since Mon 12:00")
	b.Go("2026-11-09 15:00")
	b.ok(b.Release(b.Ctx, storetest.Odile, hold, nil, "39 F inside the packets"))
	if n := len(b.notices("kind = ?", shop.NoticeReady)); n != 1 {
		t.Errorf("told ready %d times", n)
	}
	if n := len(b.notices("kind = ? AND state = ?", shop.NoticeCollect, shop.ToSend)); n != 4 {
		t.Errorf("%d reminders after the release, want 4", n)
	}
	b.ok(b.Collect(b.Ctx, storetest.Nadia, store.Handing{Booking: id, To: "Solveig A.", Tags: two}))
}

// R37: when the other part of a party comes more than three days later, the first part is
// told and may go; the rest is told on its own, and thanks come with the last.
func TestAPartyInTwoParts(t *testing.T) {
	h := storetest.SQLite(t)
	b := lay(t, h)
	b.Go("2026-10-24 13:00")
	b.class("B3", "2026-10-24 13:00")
	id, two := b.party(14, "Solveig A.", "B3", laid{"PB", "4.40", false}, laid{"MC", "4.40", false})
	b.teach(two[0])
	b.Go("2026-10-31 17:00")
	b.teach(two[1])
	b.smoked("2026-11-05", "2026-11-06", two[0])
	b.Go("2026-11-07 15:20")
	b.pack(two[0])
	b.ok(b.Shelve(b.Ctx, storetest.Nadia, on(two[0]), ""))
	if n := b.notices("kind = ?", shop.NoticeReady); len(n) != 1 || n[0].Key != fmt.Sprintf("ready/%d/part", id) {
		t.Fatalf("first part: %+v", n)
	}
	b.ok(b.Collect(b.Ctx, storetest.Nadia, store.Handing{Booking: id, To: "Solveig A.", Tags: two[:1]}))
	if n := len(b.notices("kind = ?", shop.NoticeCollected)); n != 0 {
		t.Error("thanked with half of it still to come")
	}
	b.smoked("2026-11-12", "2026-11-13", two[1])
	b.Go("2026-11-14 15:20")
	b.pack(two[1])
	b.ok(b.Shelve(b.Ctx, storetest.Nadia, on(two[1]), ""))
	if n := b.notices("kind = ? AND state = ?", shop.NoticeReady, shop.ToSend); len(n) != 1 || n[0].Key != fmt.Sprintf("ready/%d/rest-1", id) {
		t.Errorf("the rest: %+v", n)
	}
	b.ok(b.Collect(b.Ctx, storetest.Nadia, store.Handing{Booking: id, To: "Solveig A.", Tags: two[1:]}))
	if n := len(b.notices("kind = ?", shop.NoticeCollected)); n != 1 {
		t.Errorf("%d thanks, want 1", n)
	}
}

// R34: nobody decides for two days, so their people are told, once.
func TestAHoldNobodyDecides(t *testing.T) {
	h := storetest.SQLite(t)
	b := lay(t, h)
	b.Go("2026-10-24 13:00")
	b.class("B3", "2026-10-24 13:00")
	_, two := b.party(14, "Solveig A.", "B3", laid{"PB", "4.40", false}, laid{"MC", "4.40", false})
	b.teach(two...)
	b.Go("2026-10-26 12:00")
	if _, err := b.OpenHold(b.Ctx, storetest.Odile, "cure", nil, "thermometer fell"); err != nil {
		t.Fatal(err)
	}
	var told []string
	send := func(_ context.Context, n shop.Notice, _ shop.Facts) error {
		told = append(told, n.Kind+" "+b.Now().Show(b.Loc))
		return nil
	}
	for _, at := range []string{"2026-10-26 12:00", "2026-10-28 11:59", "2026-10-28 12:00", "2026-10-29 12:00"} {
		b.Go(at)
		if _, err := b.Deliver(b.Ctx, send); err != nil {
			t.Fatal(err)
		}
	}
	if want := []string{"hold-alarm Mon Oct 26, 12:00", "hold-told Wed Oct 28, 12:00"}; !slices.Equal(told, want) {
		t.Errorf("told %v, want %v", told, want)
	}
}
