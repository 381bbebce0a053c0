package store_test

import (
	"fmt"
	"strings"
	"testing"

	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
)

// W6's sheet with a history to go by: two earlier classes of the kind, booked as many days
// ahead; the third stands at 3 of 10 on its order-by.
func TestGoSheet(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		for i, c := range []struct{ code, at, early, late string }{{"B1", "2026-06-06 14:00", "2026-05-01 10:00", "2026-05-30 10:00"}, {"B2", "2026-06-13 14:00", "2026-05-08 10:00", "2026-06-06 10:00"}} {
			h.Go("2026-04-20 10:00")
			h.class(c.code, "bacon", c.at, 10, 1)
			h.Go(c.early)
			h.sell(c.code, 0, "Early", ones(4+i)...)
			h.Go(c.late)
			h.sell(c.code, 0, "Late", ones(4)...)
		}
		h.Go("2026-08-20 10:00")
		h.class("D3", "pig", "2026-10-29 18:00", 12, 0)
		h.class("B4", "bacon", "2026-10-31 14:00", 10, 1)
		_, err := h.PlanSeason(h.Ctx, storetest.Odile)
		h.must(err)
		h.guests("D3", 0, "Cordelia", 6)
		h.sell("B4", 0, "Petra", 1, 1)
		h.sell("B4", 0, "Ignace", 1)
		o, err := h.DraftOrder(h.Ctx, storetest.Odile, store.NewOrder{Kill: h.day("2026-10-27"), Farm: "harl", Species: "pork", Animals: 2, Basis: "full", Classes: []string{"D3", "B4"}})
		h.must(err)
		h.Go("2026-10-06 09:00")
		g, err := h.GoSheet(h.Ctx, "B4")
		h.must(err)
		if g.Sold != 3 || g.Seats != 10 || g.Min != 6 || g.Missing != 3 || g.OrderBy != h.At("2026-10-06 17:00") || g.Passed || g.Order.ID != o.ID || g.House != 8 {
			t.Errorf("%+v", g)
		}
		if g.Homes[0].Text != "bellies have another home: 8 slabs to house bacon" {
			t.Errorf("homes %+v", g.Homes)
		}
		if g.Beside != "3 on hand 25 days before; 2 earlier ones had 4.5 (4 to 5)" {
			t.Errorf("pace %q", g.Beside)
		}
		var pace []string
		for _, p := range g.Pace {
			pace = append(pace, fmt.Sprintf("%d: %.1f/%d/%v", p.Before, p.Mean, p.This, p.Known))
		}
		if got := strings.Join(pace, " "); got != "42: 0.0/3/true 35: 4.5/3/true 28: 4.5/3/true 21: 4.5/3/false 14: 4.5/3/false 7: 8.5/3/false 3: 8.5/3/false 0: 8.5/3/false" {
			t.Errorf("pace %s", got)
		}
		// By hand: 3 × 95 = 285; 4 slabs of 4.35 lb = 17.392 lb × 5.60 = 97.40; 19.40; 17.60; 145.
		if b := g.Bets[0]; b.Seats != 3 || b.Account.Income != 285_00 || b.Account.Margin != 285_00-97_40-19_40-17_60-145_00 {
			t.Errorf("as sold: %+v", b)
		}
		// Four more came each time: 7 expected.
		if b := g.Bets[1]; b.Seats != 7 || g.Expect.Low != 7 || g.Expect.High != 7 {
			t.Errorf("expected: %d, band %d to %d", b.Seats, g.Expect.Low, g.Expect.High)
		}
		if g.Paid != 285_00 || g.Credit != 313_50 || g.Parties != 2 || !g.MayGo || !g.MayOff || g.Even != 3 {
			t.Errorf("paid %s, credit %s, even at %d", g.Paid, g.Credit, g.Even)
		}
		// The clinic beside it has no other home for its dinner.
		g, err = h.GoSheet(h.Ctx, "D3")
		h.must(err)
		if len(g.Homes) < 2 || g.Homes[1].Good || g.Homes[1].Text != "the dinner has no other home" || len(g.Pace) != 0 {
			t.Errorf("%+v", g.Homes)
		}
	})
}
