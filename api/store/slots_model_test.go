package store_test

import (
	"fmt"
	"testing"

	"pgregory.net/rapid"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/steadytest"
	"flitchbook/planner/unit"
)

// Orders of one kill day in any order of commands (R20): places are never more than the
// plant gives, an order holds what its farm has promised or nothing, and the stock agrees
// with the orders. Refusals change nothing.
func TestSlotsUnderRandomCommands(t *testing.T) {
	steadytest.Steps(t, "12", "40")
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		round := 0
		rapid.Check(t, func(r *rapid.T) {
			// A kill day of its own for each run, so that runs do not meet.
			h.Go("2026-06-01 09:00")
			kill := h.day("2026-07-15") + unit.Day(14*round) // Wednesdays
			round++
			var orders []*shop.Order
			for i := range 3 {
				code := fmt.Sprintf("R%d%c", round, 'A'+i)
				_, err := h.AddClass(h.Ctx, storetest.Odile, shop.NewClass{Code: code, Kind: "bacon", StartsAt: (kill + 3).At(14, 0, h.Loc), MinSeats: -1, DemoSlabs: -1})
				h.must(err)
				o, err := h.DraftOrder(h.Ctx, storetest.Odile, store.NewOrder{Kill: kill, Species: "pork", Animals: 1 + i, Basis: "full", Classes: []string{code}})
				h.must(err)
				orders = append(orders, o)
			}
			pick := func(r *rapid.T) *shop.Order {
				o := h.order(rapid.SampledFrom(orders).Draw(r, "order").ID)
				return &o
			}
			try := func(before string, err error) {
				if err == nil {
					return
				}
				e, ok := shop.AsError(err)
				if !ok {
					r.Fatalf("%v", err)
				}
				if after := h.stock(); after != before {
					r.Fatalf("refused (%s), and yet %s became %s", e.Text, before, after)
				}
			}
			r.Repeat(map[string]func(*rapid.T){
				"send": func(r *rapid.T) {
					before := h.stock()
					_, err := h.SendOrder(h.Ctx, storetest.Odile, pick(r).ID)
					try(before, err)
				},
				"answer": func(r *rapid.T) {
					o, before := pick(r), h.stock()
					a := shop.FarmAnswer{Says: rapid.SampledFrom([]string{"yes", "fewer", "no", "maybe"}).Draw(r, "says"), Animals: rapid.IntRange(0, 5).Draw(r, "n")}
					_, err := h.AnswerOrder(h.Ctx, h.OrderSecret(o), a)
					try(before, err)
				},
				"change": func(r *rapid.T) {
					o, before := pick(r), h.stock()
					_, err := h.ReviseOrder(h.Ctx, storetest.Odile, o.ID, shop.OrderChange{Animals: rapid.IntRange(0, 6).Draw(r, "n"), Reason: "so"})
					try(before, err)
				},
				"hold": func(r *rapid.T) {
					o, before := pick(r), h.stock()
					try(before, h.HoldSlot(h.Ctx, storetest.Odile, o.ID))
				},
				"call off": func(r *rapid.T) {
					o, before := pick(r), h.stock()
					try(before, h.CallOffOrder(h.Ctx, storetest.Odile, o.ID, "so"))
				},
				"places": func(r *rapid.T) {
					before := h.stock()
					try(before, h.SetPlaces(h.Ctx, storetest.Odile, kill, "pork", rapid.IntRange(0, 8).Draw(r, "places")))
				},
				"": func(r *rapid.T) {
					for _, o := range orders {
						o := h.order(o.ID)
						if o.Slots != 0 && o.Slots != o.Promised || o.State == shop.SlotHeld && o.Slots != o.Promised || o.Promised > o.Animals {
							r.Fatalf("order %d is %s: %d places, %d promised of %d", o.Number, o.State, o.Slots, o.Promised, o.Animals)
						}
					}
					if over := get[int](h, "SELECT count(*) FROM slots WHERE taken > capacity"); over != 0 {
						r.Fatalf("more places are held than there are")
					}
					if n := get[int](h, `SELECT count(*) FROM slots s WHERE s.taken <> (SELECT coalesce(sum(o.slots), 0) FROM orders o WHERE o.kill_day_id = s.kill_day_id AND o.species = s.species)`); n != 0 {
						r.Fatalf("the stock of places and the orders disagree: %s", h.stock())
					}
				},
			})
		})
	})
}

// stock is every order and place in one line.
func (h *meatHouse) stock() string {
	h.t.Helper()
	return get[string](h, `SELECT coalesce((SELECT sum(taken * 1000 + capacity) FROM slots), 0) || ' ' || coalesce((SELECT sum(revision * 7 + slots * 31 + promised * 101 + animals) FROM orders), 0)`)
}
