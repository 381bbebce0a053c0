package store_test

import (
	"fmt"
	"strings"
	"testing"

	"flitchbook/api/shop"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/carcass"
	"flitchbook/planner/unit"
)

// The two pigs of the house scenario S-01 as the farm's own: by hand, a prior of 206 lb
// counting for five, (5 × 206 + 208 + 188) ÷ 7 = 203.71 lb; shrinks 2.981 and 2.979 %,
// (5 × 3 + 5.960) ÷ 7 = 2.994 %.
func TestFarmLearnsFromItsDeliveries(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		odile := storetest.Odile
		h.no(h.AdoptYield(h.Ctx, odile, "harl", "pork", ""), "nothing to learn from")
		lightPig(h)
		page, err := h.FarmPage(h.Ctx, "harl", "")
		h.must(err)
		y := page.Yields[0]
		if y.Hung != 2 || y.Adopted || len(y.Deliveries) != 1 || y.Deliveries[0].Hot != lb("396") || y.Deliveries[0].Shrink.Pct(2) != "2.98 %" {
			t.Errorf("hung %d, %+v", y.Hung, y.Deliveries)
		}
		if y.Note != "Harl Bank, 2 pigs hung: 2 bellies of 4 gave three slabs skinless, 2 gave two slabs skinless." {
			t.Errorf("note %q", y.Note)
		}
		// 384.2 lb cold leave 84 % besides bellies.
		if y.Left.Total.LB() != "322.73 lb" {
			t.Errorf("left %s", y.Left.Total.LB())
		}
		if got := learned(y.Own); got != "hanging weight 206.00 lb 198.00 lb 203.71 lb of 2; shrink 3.00 % 2.98 % 2.99 % of 2; belly 16.00 % 0.00 % 16.00 % of 0" {
			t.Errorf("learned %s", got)
		}
		if len(y.Priors) == 0 || y.Priors[0].Species != "pig" {
			t.Errorf("priors %v", y.Priors)
		}

		// A belly on the scale counts as one; reckoned ones do not.
		bellies := get[shop.BellyID](h, "SELECT min(id) FROM bellies")
		h.must(h.WeighBelly(h.Ctx, storetest.Tobias, bellies, lb("15.09"))) // of 100.6: 15 %
		page, err = h.FarmPage(h.Ctx, "harl", "pork-tas-average")
		h.must(err)
		y = page.Yields[0]
		// 5 × 16.00 % and one pig's 15.00 %, over six.
		if got := y.Own.Learned[2]; y.Prior != "pork-tas-average" || got.Samples != 1 || unit.Ratio(got.Now).Pct(2) != "15.83 %" {
			t.Errorf("against %q: belly %+v", y.Prior, got)
		}
		if y.Own.Prior.HCW.Number(unit.Kilogram, 2) != "92.54" || y.Own.Profile.Squaring != y.Now.Squaring {
			t.Errorf("prior %s, squaring %s", y.Own.Prior.HCW, y.Own.Profile.Squaring)
		}
		h.no(h.AdoptYield(h.Ctx, odile, "harl", "pork", "lamb-handbook"), "no published list of pork")

		h.must(h.AdoptYield(h.Ctx, odile, "harl", "pork", ""))
		h.no(h.AdoptYield(h.Ctx, odile, "harl", "pork", ""), "already")
		row := get[shop.YieldProfile](h, "SELECT * FROM yield_profiles WHERE species = 'pork' ORDER BY id LIMIT 1")
		if row.HCW.LB() != "203.71 lb" || row.SampleSize != 2 || row.Since != h.day("2026-10-08") || !strings.HasPrefix(row.Source, "2 pigs of its own, over the shop's own book") {
			t.Errorf("row %+v", row)
		}
		if get[int](h, "SELECT count(*) FROM history WHERE subject = 'yield' AND from_state LIKE '206.00 lb%' AND to_state LIKE '203.71 lb%'") != 1 {
			t.Error("the change left no trace")
		}
		// What it started from stays the prior: taking over twice counts no pig twice.
		page, err = h.FarmPage(h.Ctx, "harl", "")
		h.must(err)
		if y = page.Yields[0]; !y.Adopted || y.Own.Prior.HCW != lb("206") || y.Now.HCW.LB() != "203.71 lb" {
			t.Errorf("after: adopted %v, prior %s, now %s", y.Adopted, y.Own.Prior.HCW, y.Now.HCW)
		}
		// The coming orders are reckoned with it.
		s, err := h.MeatSheet(h.Ctx, h.Today()-30, h.Today()+30)
		h.must(err)
		if len(s.Groups) != 1 || s.Groups[0].Farm.Row.HCW.LB() != "203.71 lb" {
			t.Errorf("sheet %+v", s.Groups)
		}
	})
}

func learned(o carcass.Own) string {
	var out []string
	for _, l := range o.Learned[:3] {
		out = append(out, fmt.Sprintf("%s %s %s %s of %d", l.Name, l.Show(l.Prior), l.Show(l.Own), l.Show(l.Now), l.Samples))
	}
	return strings.Join(out, "; ")
}

// no wants a refusal that says a word.
func (h *meatHouse) no(err error, word string) {
	h.t.Helper()
	if err == nil {
		h.t.Errorf("was not refused, want %q", word)
		return
	}
	e, ok := shop.AsError(err)
	if !ok || !strings.Contains(e.Error()+fmt.Sprint(e.Fields), word) {
		h.t.Errorf("refused with %v %v, want %q", err, e, word)
	}
}
