package store_test

import (
	"fmt"
	"strings"
	"sync"
	"testing"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/unit"
)

// condemned is house scenario S-10 up to the scale: B3 and P2 want 20 slabs and get 18.
func condemned(h *meatHouse) *shop.Order {
	h.Go("2026-09-28 10:00")
	h.class("B3", "bacon", "2026-10-24 13:00", 10, 1)
	h.class("P2", "bacon", "2026-10-24 17:30", 8, 1)
	h.class("B4", "bacon", "2026-10-31 14:00", 10, 1)
	h.sell("B3", 14, "Solveig", ones(4)...)
	h.sell("B3", 16, "Brigid", ones(6)...)
	h.sell("P2", 18, "Dunmore", ones(8)...)
	o := h.promise("2026-10-21", "harl", "pork", 4, "B3", "P2")
	h.killed(o, "2026-10-21 12:30", "206", "206", "206", "")
	return o
}

func (h *meatHouse) trouble(key string) *store.Trouble {
	h.t.Helper()
	t, err := h.Trouble(h.Ctx, key)
	h.must(err)
	return t
}

// What the plant's paper says is reckoned before the van comes: three carcasses of 206 lb
// give 18 slabs (house rules R15, R16), and when they hang here they still do.
func TestTroubleBeforeTheVan(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		o := condemned(h)
		key := fmt.Sprintf("order-%d", o.Number)
		before := h.trouble(key)
		if before.Short != 2 || !strings.Contains(strings.Join(before.Lines, " "), "Condemned at inspection: 1. Promised 4.") {
			t.Errorf("before the van: short %d, %q", before.Short, before.Lines)
		}
		for _, w := range before.Ways {
			if strings.HasPrefix(w.ID, "skin:") || strings.HasPrefix(w.ID, "thaw:") {
				t.Errorf("a belly that does not hang here can be pressed: %+v", w)
			}
		}
		h.delivered(o, "2026-10-22 08:10", "99.91", "99.91", "99.91", "99.91", "99.91", "99.91")
		after := h.trouble(key)
		if after.Short != 2 || len(after.Touched) != 2 || after.Touched[1].People != 8 || after.Touched[1].Ready.Show() != "Sat Nov 7" {
			t.Errorf("after it: short %d, %+v", after.Short, after.Touched)
		}
		if p := after.Plans[0]; fmt.Sprint(p.IDs) != "[demo:B3:1 demo:P2:1]" {
			t.Errorf("the least harm: %v", p)
		}
		for _, p := range after.Plans {
			if strings.Contains(p.Text, "call off") {
				t.Errorf("one press calls a class off: %v", p)
			}
		}
	})
}

// More seats are sold than the animals give: nothing has happened, and it is trouble all
// the same. One pig of 206 lb gives six slabs of the eight wanted.
func TestTroubleOfASmallOrder(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		h.Go("2026-09-14 10:00")
		h.class("B1", "bacon", "2026-10-10 14:00", 10, 1)
		o := h.promise("2026-10-07", "harl", "pork", 1, "B1")
		h.sell("B1", 1, "Imke", ones(7)...)
		got := h.trouble(fmt.Sprintf("order-%d", o.Number))
		if got.Title != o.Ref()+": 6 slabs of 8 wanted, short 2" || got.Touched[0].Unfed != 3 {
			t.Errorf("%q, %+v", got.Title, got.Touched)
		}
		all, err := h.Troubles(h.Ctx)
		h.must(err)
		if len(all) != 1 {
			t.Errorf("%d troubles", len(all))
		}
	})
}

// Two people press the same way at once: it is done once, and the other is told.
func TestTroubleTakenTwice(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		o := condemned(h)
		h.delivered(o, "2026-10-22 08:10", "99.91", "99.91", "99.91", "99.91", "99.91", "99.91")
		key := fmt.Sprintf("order-%d", o.Number)
		ways := h.trouble(key).Plans[0].IDs
		var wg sync.WaitGroup
		errs := make([]error, 4)
		for i := range errs {
			wg.Go(func() { errs[i] = h.TakeWays(h.Ctx, storetest.Odile, key, ways, "", store.Once{}) })
		}
		wg.Wait()
		done := 0
		for _, err := range errs {
			e, ok := shop.AsError(err)
			switch {
			case err == nil:
				done++
			case !ok || e.Kind == shop.Internal:
				t.Errorf("pressed at once: %v", err)
			}
		}
		if done != 1 || get[int](h, "SELECT count(*) FROM history WHERE subject = 'trouble'") != 2 || get[int](h, "SELECT sum(demo_slabs) FROM classes WHERE code IN ('B3', 'P2')") != 0 {
			t.Errorf("%d presses counted", done)
		}
		if err := h.TakeWays(h.Ctx, storetest.Odile, key, ways, "", store.Once{}); err == nil {
			t.Error("a trouble that is over can be pressed")
		}
		if err := h.TakeWays(h.Ctx, storetest.Tobias, key, ways, "", store.Once{}); err != shop.ErrNotAllowed {
			t.Errorf("staff pressed it: %v", err)
		}
	})
}

// A letter goes to each ticked party once, however often and by however many it is sent;
// what was edited is what goes; nobody else hears.
func TestLettersGoOnce(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		o := condemned(h)
		h.delivered(o, "2026-10-22 08:10", "99.91", "99.91", "99.91", "99.91", "99.91", "99.91")
		key := fmt.Sprintf("order-%d", o.Number)
		sheet := h.trouble(key)
		letter := sheet.Letters[0]
		if letter.ID != "ask-P2" || len(letter.To) != 1 || !strings.Contains(letter.Body, "Sat Oct 31, 14:00") || !strings.Contains(letter.Body, "a tenth") {
			t.Fatalf("the draft: %+v", letter)
		}
		if n := get[int](h, "SELECT count(*) FROM notices WHERE kind = 'letter'"); n != 0 {
			t.Errorf("%d letters left by themselves", n)
		}
		text := shop.LetterText{Subject: "Another Saturday?", Body: "Would you?\r\n\r\nIt would help us\nvery much."}
		var wg sync.WaitGroup
		for range 3 {
			wg.Go(func() {
				if _, err := h.SendLetters(h.Ctx, storetest.Odile, key, letter.ID, text, []string{letter.To[0].ID, "b999"}); err != nil {
					t.Error(err)
				}
			})
		}
		wg.Wait()
		if n := get[int](h, "SELECT count(*) FROM notices WHERE kind = 'letter'"); n != 1 {
			t.Errorf("%d letters for one party", n)
		}
		if facts := get[string](h, "SELECT facts FROM notices WHERE kind = 'letter'"); !strings.Contains(facts, `"Lines":["Would you?","It would help us very much."]`) || !strings.Contains(facts, `"Reason":"Another Saturday?"`) {
			t.Errorf("it says %s", facts)
		}
		if got := h.trouble(key).Letters[0].To[0].Written; got == 0 {
			t.Error("the sheet does not say that it was written")
		}
		for what, text := range map[string]shop.LetterText{"nothing": {}, "two lines about": {Subject: "a\nb", Body: "c"}, "a bell": {Subject: "a", Body: "b\a"}} {
			if _, err := h.SendLetters(h.Ctx, storetest.Odile, key, letter.ID, text, []string{letter.To[0].ID}); err == nil {
				t.Errorf("a letter with %s was taken", what)
			}
		}
	})
}

// Who says yes to coming another day is moved two days before the class, keeps the price
// and has a tenth of what was paid as credit (R18e); the gap closes.
func TestMovedWithThanks(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		o := condemned(h)
		h.delivered(o, "2026-10-22 08:10", "99.91", "99.91", "99.91", "99.91", "99.91", "99.91")
		k14 := get[shop.BookingID](h, "SELECT id FROM bookings WHERE number = 14")
		once := store.Once{Key: "yes"}
		for range 2 {
			h.must(h.MoveWithThanks(h.Ctx, storetest.Odile, k14, "B4", once))
		}
		b, err := h.BookingByID(h.Ctx, k14)
		h.must(err)
		if b.Class.Code != "B4" || b.Paid != 4*95_00 || get[unit.Money](h, "SELECT sum(cents) FROM credits") != 38_00 {
			t.Errorf("moved to %s, paid %s, credit %s", b.Class.Code, b.Paid, get[unit.Money](h, "SELECT sum(cents) FROM credits"))
		}
		// B3 has four seats on sale again, and 18 less 16 slabs for them.
		sheet := h.trouble(fmt.Sprintf("order-%d", o.Number))
		if sheet.Title != o.Ref()+": 2 seats on sale that no slab is coming for" || sheet.Ways[0].ID != "unsold:B3:2" {
			t.Errorf("what is left: %q, %v", sheet.Title, sheet.Ways)
		}
		h.must(h.TakeWays(h.Ctx, storetest.Odile, sheet.Key, []string{"unsold:B3:2"}, "", store.Once{}))
		if _, err := h.Trouble(h.Ctx, sheet.Key); err == nil {
			t.Error("it is not over")
		}
		r, err := h.Recount(h.Ctx, o.ID)
		h.must(err)
		if r.Short != 0 {
			t.Errorf("short %d still", r.Short)
		}
		if err := h.MoveWithThanks(h.Ctx, storetest.Odile, k14, "B4", store.Once{}); err == nil {
			t.Error("moved to where it is")
		}
	})
}

// A kill that slides keeps its places and dates, or says why it cannot (R19, R20).
func TestKillMoved(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		h.Go("2026-10-05 10:00")
		h.class("B5", "bacon", "2026-11-07 14:00", 10, 1)
		h.class("B6", "bacon", "2026-11-14 13:00", 10, 1)
		h.sell("B5", 24, "Tamsin", ones(2)...)
		h.sell("B6", 30, "Orla", ones(2)...)
		o := h.promise("2026-11-04", "harl", "pork", 2, "B5")
		full := h.promise("2026-11-03", "harl", "pork", 4, "B6")
		m, err := h.KillMoves(h.Ctx, o.Number, h.day("2026-11-03"))
		h.must(err)
		if m.Fits || len(m.Whole) != 1 || m.Whole[0] != "0 places are left on Tue Nov 3, 2 wanted" {
			t.Errorf("a full day: %+v", m)
		}
		if _, err := h.MoveKill(h.Ctx, storetest.Odile, o.Number, h.day("2026-11-03"), ""); err == nil {
			t.Error("moved to a full day")
		}
		h.must(h.CallOffOrder(h.Ctx, storetest.Odile, full.ID, "not wanted"))
		if _, err := h.MoveKill(h.Ctx, storetest.Odile, o.Number, h.day("2026-11-03"), "the saw is broken"); err != nil {
			t.Fatal(err)
		}
		got := h.order(o.ID)
		if got.Slots != 2 || get[unit.Day](h, "SELECT day FROM kill_days WHERE id = ?", got.KillDayID) != h.day("2026-11-03") || got.DeliverOn != h.day("2026-11-05") {
			t.Errorf("order %+v", got)
		}
		if n := get[int](h, "SELECT taken FROM slots s JOIN kill_days k ON k.id = s.kill_day_id WHERE k.day = '2026-11-04'"); n != 0 {
			t.Errorf("%d places of the old day are held", n)
		}
		if n := get[int](h, "SELECT count(*) FROM entries WHERE kind = 'kill' AND subject_id = ? AND day = '2026-11-03' AND sequence > 0", o.ID); n != 1 {
			t.Error("the calendar's entry did not move")
		}
		if facts := get[string](h, "SELECT facts FROM notices WHERE kind = 'order-changed' AND subject_id = ?", o.ID); !strings.Contains(facts, "the saw is broken") {
			t.Errorf("the farm reads %s", facts)
		}
		// A week late it does not suit the class: it may be saved, and stands as trouble.
		if _, err := h.MoveKill(h.Ctx, storetest.Odile, o.Number, h.day("2026-11-10"), ""); err != nil {
			t.Fatal(err)
		}
		if lines := strings.Join(h.trouble(fmt.Sprintf("order-%d", o.Number)).Lines, " "); !strings.Contains(lines, "The kill of Tue Nov 10 does not suit B5 on Sat Nov 7") {
			t.Errorf("trouble: %s", lines)
		}
	})
}

// Two classes that each fit alone and not together are published at once by two: one is
// (R32a).
func TestTwoPublishAtOnce(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		h.Go("2026-09-01 10:00")
		h.class("B6", "bacon", "2026-11-14 13:00", 10, 1)
		h.class("B8", "bacon", "2026-11-21 14:00", 10, 1)
		codes := []string{"B9", "B10"}
		for i, code := range codes {
			_, err := h.AddClass(h.Ctx, storetest.Odile, shop.NewClass{Code: code, Kind: "bacon", StartsAt: h.At(fmt.Sprintf("2026-11-2%d 17:00", i+1)), MinSeats: -1, DemoSlabs: -1})
			h.must(err)
		}
		errs := make([]error, 2)
		var wg sync.WaitGroup
		for i, code := range codes {
			wg.Go(func() { errs[i] = h.Publish(h.Ctx, storetest.Odile, code) })
		}
		wg.Wait()
		open := get[int](h, "SELECT count(*) FROM classes WHERE code IN ('B9', 'B10') AND state = 'open'")
		if open != 1 || (errs[0] == nil) == (errs[1] == nil) {
			t.Errorf("%d are open; %v, %v", open, errs[0], errs[1])
		}
	})
}
