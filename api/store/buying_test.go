package store_test

import (
	"errors"
	"fmt"
	"slices"
	"testing"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/demand"
)

// The invented shop's whole fall in one press, five weeks before its first order-by: the
// pigs its calendar names (18, in the plan's own numbers with P2's eight seats), a lamb
// for D4, a beef for D5; the slips go to the farms; a plan that no longer holds is
// refused and orders nothing.
func TestTheSeasonOrderedInOnePress(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		h.Go("2026-08-03 09:00")
		h.must(func() error {
			_, err := h.CloseFloor(h.Ctx, storetest.Odile, store.Closing{From: h.day("2026-11-16"), To: h.day("2026-11-29"), Species: []string{"pork", "beef"}, Reason: "deer season"})
			return err
		}())
		demoSeason(h, "2026-11-18 18:00")
		h.must(h.Rows(h.Ctx, func(db *gorm.DB) error { return db.Exec("DELETE FROM outlets").Error }))
		plan, err := h.BuyingPlan(h.Ctx, demand.Full)
		h.must(err)
		var got []string
		for _, sp := range plan.Species {
			if sp.Problem != "" {
				t.Errorf("%s: %s", sp.Species, sp.Problem)
			}
			if !sp.Proven {
				t.Errorf("%s is not proven: cost %s, bound %s", sp.Species, sp.Cost, sp.Bound)
			}
			for _, u := range sp.Unfed {
				t.Errorf("%s unfed: %s", u.Code, u.Why)
			}
			for _, l := range sp.Orders {
				got = append(got, fmt.Sprintf("%s %s %s, order by %s, deliver %s, for %v", l.Kill.Show(), shop.AnimalsIn(sp.Species, l.Animals), l.Name, l.OrderBy.Show(h.Loc), l.Deliver.Show(), l.Classes))
			}
		}
		// The house calendar of orders, but that the second sitting of Nov 14 takes the later
		// kill with the week after: one day nearer (R19).
		want := []string{
			"Wed Oct 7 2 pigs Harl Bank, order by Wed Sep 16, 17:00, deliver Thu Oct 8, for [B1]",
			"Tue Oct 13 2 pigs Harl Bank, order by Tue Sep 22, 17:00, deliver Thu Oct 15, for [D1 B2]",
			"Wed Oct 21 4 pigs Harl Bank, order by Wed Sep 30, 17:00, deliver Thu Oct 22, for [B3 P2]",
			"Tue Oct 27 2 pigs Harl Bank, order by Tue Oct 6, 17:00, deliver Thu Oct 29, for [D3 B4]",
			"Wed Nov 4 2 pigs Harl Bank, order by Wed Oct 14, 17:00, deliver Thu Nov 5, for [B5]",
			"Tue Nov 10 2 pigs Harl Bank, order by Tue Oct 20, 17:00, deliver Thu Nov 12, for [B6]",
			"Wed Nov 11 4 pigs Harl Bank, order by Wed Oct 21, 17:00, deliver Thu Nov 12, for [B7 D6 B8]",
			"Wed Oct 14 1 deer Farther Croft, order by Sun Aug 30, 17:00, deliver Thu Oct 22, for [D2]",
			"Wed Oct 28 1 lamb Farther Croft, order by Wed Oct 7, 17:00, deliver Thu Nov 5, for [D4]",
			"Tue Oct 27 1 beef Ninepenny Rise, order by Fri Aug 28, 17:00, deliver Thu Nov 12, for [D5]",
		}
		if !slices.Equal(got, want) {
			t.Errorf("orders\n%q, want\n%q", got, want)
		}

		h.class("B9", "bacon", "2026-12-05 14:00", 10, 1)
		var e *shop.Error
		if _, err := h.PlaceBuying(h.Ctx, storetest.Odile, demand.Full, plan.Mark, true, store.Once{Key: "a"}); !errors.As(err, &e) || e.Code != "stale" {
			t.Fatalf("another class was sketched meanwhile: %v", err)
		}
		if n := get[int](h, "SELECT count(*) FROM orders"); n != 0 {
			t.Fatalf("%d orders from a stale plan", n)
		}
		plan, err = h.BuyingPlan(h.Ctx, demand.Full)
		h.must(err)
		orders, err := h.PlaceBuying(h.Ctx, storetest.Odile, demand.Full, plan.Mark, true, store.Once{Key: "b"})
		h.must(err)
		pigs := 0
		for _, o := range orders {
			if o.State != shop.Asked {
				t.Errorf("%s is %q", o.Ref(), o.State)
			}
			if o.Species == "pork" {
				pigs += o.Animals
			}
		}
		if pigs != 20 { // 18, and two for B9
			t.Errorf("%d pigs", pigs)
		}
		again, err := h.PlaceBuying(h.Ctx, storetest.Odile, demand.Full, plan.Mark, true, store.Once{Key: "b"})
		h.must(err)
		if len(again) != 0 || get[int](h, "SELECT count(*) FROM orders") != len(orders) {
			t.Errorf("pressed twice: %d orders more", len(again))
		}
		left, err := h.BuyingPlan(h.Ctx, demand.Full)
		h.must(err)
		if i := slices.IndexFunc(left.Species, func(sp store.SpeciesPlan) bool { return len(sp.Orders) > 0 }); i >= 0 {
			t.Errorf("still to order: %+v", left.Species[i].Orders)
		}
	})
}
