package store_test

import (
	"testing"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/carcass"
	"flitchbook/planner/unit"
)

// A cutting test is kept once, with what it says; a whole side moves the farm's shares.
func TestCuttingTestIsKept(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		h.Go("2026-10-09 11:00")
		// E-C4, a handout page [read]: net 28.40, 1.78 a pound, factor 1.3654.
		n := shop.CuttingTest{Name: "rib", Bought: lb("28"), Price: 130, UsableName: "oven ready", Usable: lb("16")}
		h.must(n.SetParts([]carcass.TestPart{{Name: "fat", Weight: lb("3"), Price: 10}, {Name: "bones", Weight: lb("4"), Price: 30}, {Name: "trim", Weight: lb("5"), Price: 130}}))
		id, err := h.AddCuttingTest(h.Ctx, storetest.Odile, n, store.Once{Key: "k1"})
		h.must(err)
		if again, err := h.AddCuttingTest(h.Ctx, storetest.Odile, n, store.Once{Key: "k1"}); err != nil || again != id {
			t.Errorf("a second press made test %d, %v", again, err)
		}
		v, err := h.CuttingTest(h.Ctx, id)
		h.must(err)
		if v.Result.Net != 28_40 || v.Result.PerPound != 178 || v.Day != h.day("2026-10-09") || v.Actor != "Odile" || len(v.Parts) != 3 {
			t.Errorf("%+v", v)
		}
		n.Usable = lb("26")
		h.refused(n, "usable", "Weighed more than bought: 38.00 lb of 28.00 lb.")
		n.Usable = lb("16")
		h.must(n.SetParts([]carcass.TestPart{{Weight: lb("3")}}))
		h.refused(n, "part1", "A part needs a name.")

		harl := get[shop.FarmID](h, "SELECT id FROM farms WHERE code = 'harl'")
		side := shop.CuttingTest{Name: "side of Harl Bank", FarmID: harl, Species: "pork", WholeSide: true, Bought: lb("100"), Price: 290, UsableName: "Ham", Usable: lb("28")}
		h.must(side.SetParts([]carcass.TestPart{{Name: "belly", Weight: lb("15")}, {Name: "loin", Weight: lb("23")}}))
		_, err = h.AddCuttingTest(h.Ctx, storetest.Odile, side, store.Once{})
		h.must(err)
		page, err := h.FarmPage(h.Ctx, "harl", "")
		h.must(err)
		got := map[string]int64{}
		for _, l := range page.Yields[0].Own.Learned {
			got[l.Name] = l.Own
		}
		if got["ham"] != int64(28*unit.Percent) || got["belly"] != int64(15*unit.Percent) || got["loin"] != int64(23*unit.Percent) || len(page.Yields[0].Tests) != 1 {
			t.Errorf("learned %v", got)
		}
		side.UsableName = "shoulder"
		h.must(side.SetParts(nil))
		h.refused(side, "whole_side", "None of the names is a cut of this farm's animals; they are belly, ham, loin, butt, picnic, ribs, rest.")
		side.Species = "goat"
		h.refused(side, "farm", "The shop has no goat from this farm.")
		tests, err := h.CuttingTests(h.Ctx)
		h.must(err)
		if len(tests) != 2 || tests[0].Farm != "Harl Bank" {
			t.Errorf("%d tests", len(tests))
		}
	})
}

func (h *meatHouse) refused(n shop.CuttingTest, field, words string) {
	h.t.Helper()
	_, err := h.AddCuttingTest(h.Ctx, storetest.Odile, n, store.Once{})
	if e, ok := shop.AsError(err); !ok || e.Fields[field] != words {
		h.t.Errorf("refused with %v, want %s: %s", err, field, words)
	}
}
