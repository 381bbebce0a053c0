package frontend

import (
	"testing"

	"github.com/chromedp/chromedp"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/frontend/browsertest"
	"flitchbook/planner/unit"
)

// shortOrder is house scenario S-01 up to the scale, and returns the farm's page.
func shortOrder(o *office) string {
	o.Go("2026-09-14 10:00")
	o.bacon("B1", "2026-10-10 14:00", 10)
	o.bacon("B9", "2026-11-21 14:00", 0)
	order, err := o.DraftOrder(o.Ctx, storetest.Odile, store.NewOrder{Kill: unit.DayOf(2026, 10, 7), Farm: "harl", Species: "pork", Animals: 2, Basis: "full", Classes: []string{"B1"}})
	o.must(err)
	_, err = o.SendOrder(o.Ctx, storetest.Odile, order.ID)
	o.must(err)
	link := o.farmLink()
	_, err = o.AnswerOrderFor(o.Ctx, storetest.Odile, order.ID, shop.FarmAnswer{Says: "yes"})
	o.must(err)
	o.Go("2026-10-07 12:30")
	lb := func(tenths int64) unit.Weight { return unit.Weight(tenths) * unit.Pound / 10 }
	_, err = o.RecordKill(o.Ctx, storetest.Odile, order.ID, []shop.KilledAnimal{{Tag: "HB-611", Hot: lb(2080)}, {Tag: "HB-612", Hot: lb(1880)}})
	o.must(err)
	o.Go("2026-10-08 15:30")
	_, err = o.ReceiveDelivery(o.Ctx, storetest.Tobias, order.ID, "EST. 0000-DEMO", []shop.DeliveredSide{
		{Animal: 1, Which: "L", Cold: lb(1006)}, {Animal: 1, Which: "R", Cold: lb(1012)}, {Animal: 2, Which: "L", Cold: lb(908)}, {Animal: 2, Which: "R", Cold: lb(916)}})
	o.must(err)
	_, err = o.MakeCutList(o.Ctx, storetest.Tobias, order.ID)
	o.must(err)
	return link
}

// The pages of the meat fit a phone and a desk and break no rule of accessibility; the
// slip is one sheet on both papers.
func TestMeatPagesInABrowser(t *testing.T) {
	o := openOffice(t)
	link := shortOrder(o)
	b := browsertest.Start(t, o.e)
	for name, path := range map[string]string{"season": "/owner/season", "meat": "/owner/meat", "buying": "/owner/buying?count=full", "floor": "/owner/floor", "order": "/owner/orders/1", "farm": link,
		"troubles": "/owner/trouble", "trouble": "/owner/trouble/order-1"} {
		for size, s := range screens(browsertest.Phone, browsertest.Desk) {
			t.Run(name+" "+size, func(t *testing.T) {
				tab := b.Tab(t, s)
				tab.Open(path)
				tab.Shot(name + "-" + size)
				tab.Fits()
				tab.Axe()
			})
		}
	}
	for paper, size := range map[string]chromedp.PaperSize{"a4": browsertest.A4, "letter": browsertest.Letter} {
		tab := b.Tab(t, browsertest.Desk)
		tab.Open("/owner/orders/1/slip")
		if n := len(browsertest.Printed(t, tab.PDF("slip-"+paper, size), size)); n != 1 {
			t.Errorf("the slip takes %d sheets of %s, want 1", n, paper)
		}
		tab.Open("/staff/orders/1/cutlist")
		browsertest.Printed(t, tab.PDF("cutlist-"+paper, size), size)
	}
}
