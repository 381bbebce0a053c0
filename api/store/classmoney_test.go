package store_test

import (
	"fmt"
	"strings"
	"testing"

	"flitchbook/api/store/storetest"
)

// R42 on the house scenario S-01, outcome B, by hand: ten seats of $95 and a second slab
// of $60; 26.347 lb skinless × 5.60 = 147.54, 27.696 lb skin on × 4.70 = 130.17; twelve
// slabs of goods 58.20 and 144 min 52.80; 95.00 and 50.00 of labour. The pair of pigs
// cost 396 × 2.40 + 140 + 40 = 1,130.40 against 1,209.21 of parts: factor 0.9348.
func TestClassMoney(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		o, r := lightPig(h)
		for _, w := range r.Ways {
			if w.Act == "skin" && w.Gain > 0 {
				h.must(h.SetSkin(h.Ctx, storetest.Odile, w.Belly, true))
			}
		}
		_, err := h.MakeCutList(h.Ctx, storetest.Tobias, o.ID)
		h.must(err)
		m, err := h.ClassMoney(h.Ctx, "B1")
		h.must(err)
		var lines []string
		for _, l := range m.Account.Lines {
			lines = append(lines, l.Name+" "+l.Cents.String())
		}
		if got := strings.Join(lines, ", "); got != "Seats at $95.00 $950.00, Second slabs at $60.00 $60.00, Belly, skinless -$147.54, Belly, skin on -$130.17, Goods -$58.20, After-work -$52.80, Teaching -$95.00, Helping -$50.00" {
			t.Errorf("lines %s", got)
		}
		if m.Account.Margin != 476_29 || m.Account.ASeat != 53_37 || m.Slabs != 12 || m.Basis != "planned" || m.Unpaid != 0 {
			t.Errorf("margin %s, a seat %s, %d slabs %s", m.Account.Margin, m.Account.ASeat, m.Slabs, m.Basis)
		}
		a := m.Animal
		if a.Cost != 1130_40 || a.Value != 1209_21 || fmt.Sprintf("%.4f", a.Factor.Float()) != "0.9348" || a.Belly.Pound != 439 || a.What != fmt.Sprintf("2 pigs of order %d, as they hung", o.Number) {
			t.Errorf("animal %+v", a)
		}
		rows, err := h.ClassMonies(h.Ctx, h.day("2026-10-01"), h.day("2026-10-31"))
		h.must(err)
		if len(rows) != 1 || rows[0].Margin != 476_29 {
			t.Errorf("rows %+v", rows)
		}
	})
}
