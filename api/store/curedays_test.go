package store_test

import (
	"strings"
	"testing"

	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/unit"
)

// The house rule (R27) and the salt model side by side, as of E-D8, E-D12, E-D16 and E-D7:
// 2 in come to 14.69 days, 1.5 in with the skin on to 33.05, and 5.00 lb on 20 × 30 cm are
// 38.4 mm, 8.28 days. Promises stay with the rule.
func TestCureDaysBesideTheRule(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		b := lay(t, h)
		b.Go("2026-10-09 09:00")
		b.class("B1", "2026-10-10 14:00")
		_, tags := b.party(1, "Imke S.", "B1", laid{"PB", "5.00", false}, laid{"PB", "5.00", false})
		bad := store.Cutting{Weight: b.lb("5.00"), Thickness: 15 * unit.Inch}
		b.no(b.CutSlab(b.Ctx, storetest.Tobias, on(tags[0]), bad), "thickness")
		b.ok(b.CutSlab(b.Ctx, storetest.Tobias, on(tags[0]), store.Cutting{Weight: b.lb("5.00"), Thickness: 2 * unit.Inch}))
		b.ok(b.CutSlab(b.Ctx, storetest.Tobias, on(tags[1]), store.Cutting{Weight: b.lb("5.00")}))
		b.Go("2026-10-10 14:30")
		for _, tag := range tags {
			b.ok(b.Kit(b.Ctx, storetest.Tobias, on(tag)))
		}
		b.weigh(tags...)
		b.seal(tags...)
		for i, want := range []struct {
			model, later, thick string
			measured, warned    bool
		}{{"Sun Oct 25", "Sun Oct 25", "2.00 in", true, true}, {"Mon Oct 19", "Thu Oct 22", "1.51 in", false, false}} {
			v, err := b.Slab(b.Ctx, tags[i])
			b.ok(err)
			d := v.CureDays
			if d == nil {
				t.Fatalf("%s has no days", tags[i])
			}
			if d.Rule.Show() != "Thu Oct 22" || d.Model.Show() != want.model || d.Later.Show() != want.later || d.Thickness.In() != want.thick || d.Measured != want.measured || (d.Warn != "") != want.warned || d.Label != "salt, model" {
				t.Errorf("%s: %+v", tags[i], d)
			}
			if w := d.Words(); w != "rule: Thu Oct 22; salt, model: "+want.model+"; the later counts for advice" || strings.Contains(strings.Join(d.Reasons, " "), "cured through") {
				t.Errorf("%q, %q", w, d.Reasons)
			}
			if sl := b.get(tags[i]); sl.UnbagFrom.Show() != "Thu Oct 22" || sl.ReadyOn.Show() != "Sat Oct 24" {
				t.Errorf("the promise moved: %s, %s", sl.UnbagFrom.Show(), sl.ReadyOn.Show())
			}
		}
	})
}
