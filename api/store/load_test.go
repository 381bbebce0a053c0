package store_test

import (
	"slices"
	"testing"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/unit"
)

// S-06 through the store: seventeen slabs and sixteen hooks. The shop's own bacon takes
// eight on Fri Nov 6; K16 + K17 + K18 fill 15, K14 goes to Tue Nov 10 with K15.
func TestSeventeenSlabsSixteenHooks(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		b := lay(t, h)
		b.Go("2026-10-24 13:00")
		b.class("B3", "2026-10-24 13:00")
		b.class("P2", "2026-10-24 17:30")
		l := func(picks ...string) (out []laid) {
			for _, p := range picks {
				out = append(out, laid{p, "4.40", false})
			}
			return out
		}
		_, k14 := b.party(14, "Solveig A.", "B3", l("PB", "MC")...)
		_, k16 := b.party(16, "Brigid O.", "B3", l("MH", "SC", "PB", "FO")...)
		_, k17 := b.party(17, "Hadley Q.", "B3", l("PL", "GP", "GP")...)
		_, k18 := b.party(18, "Dunmore family", "P2", l("PB", "PB", "PB", "MC", "MC", "MH", "MH", "CS")...)
		b.teach(slices.Concat(k14, k16, k17, k18)...)
		b.Go("2026-10-27 17:00")
		_, k15 := b.party(15, "Anselm P.", "B3", l("JT")...)
		b.teach(k15...)

		b.Go("2026-11-04 09:00")
		friday, tuesday := unit.DayOf(2026, 11, 6), unit.DayOf(2026, 11, 10)
		b.no(b.SetHouseHooks(b.Ctx, storetest.Tobias, friday, 8), "may not")
		b.no(b.SetHouseHooks(b.Ctx, storetest.Odile, friday, 19), "above the bottom row")
		b.ok(b.SetHouseHooks(b.Ctx, storetest.Odile, friday, 8))
		plan, err := b.PlanLoad(b.Ctx, storetest.Tobias, friday)
		b.ok(err)
		if got := plan.Load; got.Hooks != 15 || got.Free != 1 || got.Bottom != 5 || len(got.Waiting) != 1 || got.Waiting[0].Party != "K14" {
			t.Errorf("load %+v", got)
		}
		if plan2, err := b.PlanLoad(b.Ctx, storetest.Tobias, friday); err != nil || len(plan2.Hangings) != 15 {
			t.Errorf("planned again: %v, %v", plan2, err)
		}
		// One draft for the owner: Solveig's date moves Sat Nov 7 to Wed Nov 11.
		drafts, err := b.DateDrafts(b.Ctx)
		b.ok(err)
		if len(drafts) != 1 || drafts[0].Ref != "K14" || drafts[0].Old.Show() != "Sat Nov 7" || drafts[0].New.Show() != "Wed Nov 11" {
			t.Errorf("drafts %+v", drafts)
		}
		b.Go("2026-11-05 10:00")
		b.no(b.Rinse(b.Ctx, storetest.Tobias, on(k14[0]), 0), "not in the load of Fri Nov 6")
		b.no(b.Rinse(b.Ctx, storetest.Tobias, on(k15[0]), 0), "Sun Nov 8 at the earliest")
		for _, tag := range slices.Concat(k16, k17, k18) {
			b.ok(b.Rinse(b.Ctx, storetest.Tobias, on(tag), 0))
		}
		b.no(b.Hang(b.Ctx, storetest.Tobias, on(k16[0]), ""), "No load is planned for Thu Nov 5")
		b.Go("2026-11-06 08:00")
		b.no(b.Hang(b.Ctx, storetest.Tobias, on(k16[0]), "H9"), "bottom row only")
		b.no(b.Hang(b.Ctx, storetest.Tobias, on(k17[0]), "H1"), "shop's own")
		b.no(b.Hang(b.Ctx, storetest.Tobias, on(k14[0]), ""), "cannot become")
		b.ok(b.Hang(b.Ctx, storetest.Tobias, on(k17[0]), "H18"))
		for _, tag := range slices.Concat(k16, k17[1:], k18) {
			b.ok(b.Hang(b.Ctx, storetest.Tobias, on(tag), ""))
		}
		// Allergen crusts in the bottom row, and nothing else where they are.
		var low []string
		b.rows(func(db *gorm.DB) error {
			return db.Raw("SELECT s.tag FROM slabs s JOIN placements p ON p.slab_id = s.id AND p.until_at = 0 JOIN places pl ON pl.id = p.place_id WHERE pl.bottom ORDER BY s.tag").Scan(&low).Error
		})
		want := []string{k16[0], k16[1], k18[5], k18[6], k18[7]}
		slices.Sort(want)
		if !slices.Equal(low, want) {
			t.Errorf("bottom row %v, want %v", low, want)
		}
		_, err = b.PlanLoad(b.Ctx, storetest.Tobias, friday)
		b.no(err, "hanging already")
		b.no(b.OutOfSmoke(b.Ctx, storetest.Tobias, on(k16[0]), unit.TempOfF(14)), "cannot be the core")
		b.ok(b.OutOfSmoke(b.Ctx, storetest.Tobias, on(k16[0]), unit.TempOfF(146)))
		b.want(k16[0], shop.Resting)

		b.Go("2026-11-09 09:00")
		plan, err = b.PlanLoad(b.Ctx, storetest.Tobias, tuesday)
		b.ok(err)
		if got := plan.Load; got.Hooks != 3 || len(got.Groups) != 2 || got.Groups[0].Party != "K14" || got.Groups[1].Party != "K15" {
			t.Errorf("Tuesday's load %+v", got)
		}
		_, err = b.PlanLoad(b.Ctx, storetest.Tobias, unit.DayOf(2026, 11, 27))
		b.no(err, "closed")
	})
}
