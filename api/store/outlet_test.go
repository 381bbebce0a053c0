package store_test

import (
	"fmt"
	"strings"
	"testing"

	"flitchbook/api/shop"
	"flitchbook/api/store/storetest"
)

// What an order leaves goes down the outlets of its week; the second delivery of a week
// finds them part full. By hand: a pig more or less leaves 49.96 lb of ham; two pigs
// 99.91: 60 over the counter, 30 to sausage, 9.91 without a home.
func TestWhatAnOrderLeavesAgainstOutlets(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		h.Go("2026-09-14 10:00")
		h.class("B1", "bacon", "2026-10-10 14:00", 10, 1)
		h.class("B2", "bacon", "2026-10-17 14:00", 10, 1)
		_, err := h.PlanSeason(h.Ctx, storetest.Odile)
		h.must(err)
		h.must(h.Do(h.Ctx, `UPDATE outlets SET week = 0`))
		ham := []shop.Outlet{{Species: "pork", Cut: "ham", Way: shop.AtCounter, Week: lb("60"), Price: 260}, {Species: "pork", Cut: "ham", Way: shop.ToSausage, Week: lb("30"), Price: 150}}
		if n, err := h.SetOutlets(h.Ctx, storetest.Odile, ham); err != nil || n != 2 {
			t.Errorf("%d changed, %v", n, err)
		}
		if n, err := h.SetOutlets(h.Ctx, storetest.Odile, ham); err != nil || n != 0 {
			t.Errorf("the same again: %d changed, %v", n, err)
		}
		_, err = h.SetOutlets(h.Ctx, storetest.Odile, []shop.Outlet{{Species: "pork", Cut: "ham", Way: "barter", Week: lb("1")}})
		h.no(err, "over the counter, to sausage or to the freezer")
		sheet, err := h.MeatSheet(h.Ctx, h.Today(), h.Today()+60)
		h.must(err)
		if len(sheet.Groups) != 2 {
			t.Fatalf("%d groups", len(sheet.Groups))
		}
		for i, g := range sheet.Groups {
			c := g.Sales.Cuts[0]
			var to []string
			for _, w := range c.To {
				to = append(to, fmt.Sprintf("%s %s %s", w.Way, w.Weight.LB(), w.Money))
			}
			if got := fmt.Sprintf("%s %s: %s, over %s, %s", c.Cut, c.Weight.LB(), strings.Join(to, ", "), c.Over.LB(), c.Money); got != "ham 99.91 lb: counter 60.00 lb $156.00, sausage 30.00 lb $45.00, over 9.91 lb, $201.00" || g.Shared {
				t.Errorf("group %d: %s, shared %v", i, got, g.Shared)
			}
		}
		// Both in one week: the second finds the outlets full.
		h.must(h.PlanKills(h.Ctx, storetest.Odile, []string{"B1"}, h.day("2026-10-06")))
		h.must(h.PlanKills(h.Ctx, storetest.Odile, []string{"B2"}, h.day("2026-10-07")))
		sheet, err = h.MeatSheet(h.Ctx, h.Today(), h.Today()+60)
		h.must(err)
		if len(sheet.Groups) != 2 || sheet.Groups[0].Deliver != sheet.Groups[1].Deliver {
			t.Fatalf("%d groups", len(sheet.Groups))
		}
		first, second := sheet.Groups[0].Sales.Cuts[0], sheet.Groups[1].Sales.Cuts[0]
		if first.Over.LB() != "9.91 lb" || second.Over != second.Weight || !sheet.Groups[1].Shared || sheet.Groups[0].Shared {
			t.Errorf("one week: %s over, then %s of %s", first.Over.LB(), second.Over.LB(), second.Weight.LB())
		}
		known, err := h.Outlets(h.Ctx)
		h.must(err)
		if len(known.Cuts) < 6 || known.Cuts[0].Cut != "ham" || known.Cuts[0].Ways[0].Week != lb("60") || known.Cuts[0].List != 260 {
			t.Errorf("outlets %+v", known.Cuts)
		}
	})
}

// W8 of the house: on the morning before a delivery the owner is told what has no buyer.
// Two pigs leave 335.70 lb; with the demo shop's outlets 18.36 lb of the rest stay over.
func TestMorningSaysWhatHasNoBuyer(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		h.Go("2026-09-14 10:00")
		h.class("B1", "bacon", "2026-10-10 14:00", 10, 1)
		h.sell("B1", 0, "Imke", ones(8)...)
		o := h.promise("2026-10-07", "harl", "pork", 2, "B1")
		says := func() string {
			l, err := h.MorningList(h.Ctx)
			h.must(err)
			return strings.Join(l, "\n")
		}
		h.Go("2026-10-04 07:00")
		if s := says(); strings.Contains(s, "besides bellies") {
			t.Errorf("four days before: %s", s)
		}
		h.Go("2026-10-05 07:00")
		want := fmt.Sprintf("Order %d, Harl Bank, comes Thu Oct 8 and leaves 335.70 lb besides bellies; without a home this week: rest 18.36 lb", o.Number)
		if s := says(); !strings.Contains(s, want) {
			t.Errorf("the list says %q, want %q", s, want)
		}
		h.must(h.Do(h.Ctx, `UPDATE outlets SET week = 0`))
		if s := says(); strings.Contains(s, "besides bellies") {
			t.Errorf("no outlets are known, yet: %s", s)
		}
	})
}
