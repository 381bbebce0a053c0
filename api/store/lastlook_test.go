package store_test

import (
	"strings"
	"testing"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/api/store/storetest"
)

// R10: a bacon class going ahead with 3 seats is looked at again three days before at
// 18:00, once; with 4 it is not. The program only asks.
func TestLastLook(t *testing.T) {
	eachMeat(t, func(t *testing.T, h *meatHouse) {
		h.Go("2026-10-06 09:00")
		h.class("B4", "bacon", "2026-10-31 14:00", 10, 1)
		h.class("B5", "bacon", "2026-11-07 14:00", 10, 1)
		h.class("D9", "pig", "2026-10-31 18:00", 12, 0)
		h.sell("B4", 0, "Petra", ones(3)...)
		h.sell("B5", 0, "Tamsin", ones(4)...)
		h.guests("D9", 0, "Stellan", 2)
		h.must(h.GoAhead(h.Ctx, storetest.Odile, "B4"))
		asked := func() []shop.Notice {
			var n []shop.Notice
			h.must(h.Rows(h.Ctx, func(g *gorm.DB) error { return g.Where(`"key" LIKE 'last-look/%'`).Find(&n).Error }))
			return n
		}
		h.Go("2026-10-28 17:59")
		h.must(h.RunDue(h.Ctx))
		if n := asked(); len(n) != 0 {
			t.Errorf("asked too early: %v", n)
		}
		next, err := h.NextDue(h.Ctx)
		h.must(err)
		if next > h.At("2026-10-28 18:00") {
			t.Errorf("the next thing due is %s", next.Show(h.Loc))
		}
		h.Go("2026-10-28 18:00")
		h.must(h.RunDue(h.Ctx))
		h.must(h.RunDue(h.Ctx))
		n := asked()
		if len(n) != 1 || n[0].SubjectID != int64(h.id("B4")) || !n[0].Urgent || !strings.Contains(n[0].Facts, "3 of 10 seats are taken three days before") {
			t.Errorf("asked %v", n)
		}
		if s := get[string](h, "SELECT state FROM classes WHERE code = 'B4'"); s != string(shop.GoingAhead) {
			t.Errorf("B4 is %s", s)
		}
		h.Go("2026-11-04 18:01")
		h.must(h.RunDue(h.Ctx))
		if n := asked(); len(n) != 1 {
			t.Errorf("%d asked, 4 seats are enough", len(n))
		}
	})
}
