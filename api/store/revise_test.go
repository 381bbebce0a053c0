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

// An order is made larger and smaller before its order-by: the farm gets the slip as it
// stands, its old promise stands until it answers, places follow (R20: four a kill day).
func TestReviseOrder(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		h.Go("2026-09-10 10:00")
		h.class("B1", "bacon", "2026-10-10 14:00", 10, 1)
		o := h.promise("2026-10-07", "harl", "pork", 2, "B1")
		change := func(n int) error {
			_, err := h.ReviseOrder(h.Ctx, storetest.Odile, o.ID, shop.OrderChange{Animals: n, Reason: "a party more"})
			return err
		}
		says := func(want string) {
			t.Helper()
			r := h.order(o.ID)
			if got := fmt.Sprintf("%s, %d of %d, %d places, asks %v", r.State, r.Promised, r.Animals, r.Slots, r.Asks()); got != want {
				t.Errorf("%s; want %s", got, want)
			}
			if n := get[int](h, "SELECT taken FROM slots"); n != r.Slots {
				t.Errorf("the kill day has %d places taken, the order holds %d", n, r.Slots)
			}
		}
		says("slot held, 2 of 2, 2 places, asks false")
		if e, ok := shop.AsError(change(2)); !ok || e.Fields["animals"] == "" {
			t.Error("a change to what it is already was taken")
		}
		if _, err := h.ReviseOrder(h.Ctx, storetest.Odile, o.ID, shop.OrderChange{Animals: 3}); err == nil {
			t.Error("changed without a word why")
		}
		if err := change(5); err == nil || !strings.Contains(err.Error(), "4 of 4 slots are left") {
			t.Errorf("five pigs on a day of four: %v", err)
		}
		h.must(change(4))
		says("slot held, 2 of 4, 2 places, asks true")
		if v, err := h.OrderSlip(h.Ctx, h.OrderSecret(o)); err != nil || !v.Order.Asks() {
			t.Errorf("the slip does not ask: %v", err)
		}
		_, err := h.AnswerOrder(h.Ctx, h.OrderSecret(o), shop.FarmAnswer{Says: "no", Words: "two are too small"})
		h.must(err)
		says("slot held, 2 of 4, 2 places, asks false")
		if got := h.order(o.ID).Answer; got != "no more than 2 pigs: two are too small" {
			t.Errorf("the answer is kept as %q", got)
		}
		h.must(change(3))
		_, err = h.AnswerOrder(h.Ctx, h.OrderSecret(o), shop.FarmAnswer{Says: "yes"})
		h.must(err)
		says("slot held, 3 of 3, 3 places, asks false")
		h.must(change(1))
		says("slot held, 1 of 1, 1 places, asks false")
		if n := get[int](h, "SELECT count(*) FROM notices WHERE kind = 'order-changed'"); n != 3 {
			t.Errorf("the farm was sent %d new slips, want 3", n)
		}
		if n := get[int](h, "SELECT count(*) FROM notices WHERE kind = 'order-remind' AND state = 'waiting to send'"); n != 0 {
			t.Errorf("%d reminders wait for an order that is answered", n)
		}
		// Past its order-by it stands.
		h.Go("2026-09-16 17:00")
		if err := change(2); err == nil || !strings.Contains(err.Error(), "the order stands") {
			t.Errorf("changed after the order-by: %v", err)
		}
		for _, f := range h.check() {
			t.Error(f)
		}
	})
}

// check is every broken invariant in words.
func (h *meatHouse) check() []string {
	h.t.Helper()
	found, err := h.Check(h.Ctx)
	h.must(err)
	var out []string
	for _, f := range found {
		for _, b := range f.Broken {
			out = append(out, f.Rule+": "+b)
		}
	}
	return out
}

// Places are stock (R20): listed by kill day, closed by a closure, and never more held
// than there are, whoever asks at once.
func TestSlotStock(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		h.Go("2026-09-10 10:00")
		h.class("B1", "bacon", "2026-10-10 14:00", 10, 1)
		h.class("D1", "pig", "2026-10-10 18:00", 12, 0)
		day := h.day("2026-10-07")
		h.must(h.PlanKill(h.Ctx, storetest.Odile, h.id("B1"), day))
		h.must(h.PlanKill(h.Ctx, storetest.Odile, h.id("D1"), day))
		var orders []*shop.Order
		for _, code := range []string{"B1", "D1"} {
			o, err := h.DraftOrder(h.Ctx, storetest.Odile, store.NewOrder{Kill: day, Species: "pork", Animals: 2, Basis: "full", Classes: []string{code}})
			h.must(err)
			_, err = h.SendOrder(h.Ctx, storetest.Odile, o.ID)
			h.must(err)
			_, err = h.AnswerOrderFor(h.Ctx, storetest.Odile, o.ID, shop.FarmAnswer{Says: "fewer", Animals: 1})
			h.must(err)
			orders = append(orders, o)
		}
		row := func(d unit.Day) store.SlotDay {
			t.Helper()
			all, err := h.Slots(h.Ctx, h.day("2026-10-01"), h.day("2026-10-31"))
			h.must(err)
			for _, r := range all {
				if r.Day == d && r.Species == "pork" {
					return r
				}
			}
			t.Fatalf("%s is not listed", d)
			return store.SlotDay{}
		}
		if r := row(day); r.Capacity != 4 || r.Held != 2 || r.Left != 2 || r.Used != 0 || r.Unused() != -1 || len(r.Orders) != 2 {
			t.Errorf("Wed Oct 7: %+v", r)
		}
		if r := row(h.day("2026-10-13")); r.Capacity != 4 || r.Left != 4 {
			t.Errorf("a kill day nobody has planned for: %+v", r)
		}
		// Both are raised to three; only one of them can have the places.
		for _, o := range orders {
			_, err := h.ReviseOrder(h.Ctx, storetest.Odile, o.ID, shop.OrderChange{Animals: 3, Reason: "more seats"})
			h.must(err)
		}
		var wg sync.WaitGroup
		for _, o := range orders {
			wg.Go(func() {
				if _, err := h.AnswerOrder(h.Ctx, h.OrderSecret(o), shop.FarmAnswer{Says: "yes"}); err != nil {
					t.Errorf("AnswerOrder: %v", err)
				}
			})
		}
		wg.Wait()
		if r := row(day); r.Held != 4 || r.Left != 0 {
			t.Errorf("after both said yes: %+v, want one with 3 and one with 1", r)
		}
		// A closed floor makes places unusable.
		for _, n := range []struct {
			day  string
			want string
		}{{"2026-10-08", "does not kill"}, {"2026-09-09", "has been"}} {
			if err := h.SetPlaces(h.Ctx, storetest.Odile, h.day(n.day), "pork", 6); err == nil || !strings.Contains(err.Error(), n.want) {
				t.Errorf("places on %s: %v", n.day, err)
			}
		}
		if err := h.SetPlaces(h.Ctx, storetest.Odile, h.day("2026-10-13"), "ostrich", 6); err == nil {
			t.Error("places for a species no class needs")
		}
		h.must(h.SetPlaces(h.Ctx, storetest.Odile, h.day("2026-10-13"), "pork", 6))
		_, err := h.CloseFloor(h.Ctx, storetest.Odile, store.Closing{From: h.day("2026-10-12"), To: h.day("2026-10-18"), Species: []string{"beef", "pork"}, Reason: "repairs"})
		h.must(err)
		if r := row(h.day("2026-10-13")); r.Capacity != 6 || r.Left != 0 || !strings.Contains(r.Closed, "repairs") {
			t.Errorf("a closed day: %+v", r)
		}
		late := h.class("B2", "bacon", "2026-10-24 14:00", 10, 1)
		h.must(h.Do(h.Ctx, "UPDATE plant_closures SET species = 'beef'"))
		h.must(h.PlanKill(h.Ctx, storetest.Odile, late, h.day("2026-10-14")))
		o, err := h.DraftOrder(h.Ctx, storetest.Odile, store.NewOrder{Kill: h.day("2026-10-14"), Species: "pork", Animals: 2, Basis: "full", Classes: []string{"B2"}})
		h.must(err)
		_, err = h.SendOrder(h.Ctx, storetest.Odile, o.ID)
		h.must(err)
		h.must(h.Do(h.Ctx, "UPDATE plant_closures SET species = ''"))
		_, err = h.AnswerOrder(h.Ctx, h.OrderSecret(o), shop.FarmAnswer{Says: "yes"})
		h.must(err)
		if r := h.order(o.ID); r.State != shop.Promised || r.Slots != 0 {
			t.Errorf("on a closed floor: %s with %d places", r.State, r.Slots)
		}
		if err := h.HoldSlot(h.Ctx, storetest.Odile, o.ID); err == nil || !strings.Contains(err.Error(), "repairs") {
			t.Errorf("HoldSlot on a closed floor: %v", err)
		}
		for _, f := range h.check() {
			t.Error(f)
		}
	})
}
