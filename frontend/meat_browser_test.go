package frontend

import (
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/frontend/browsertest"
	"flitchbook/planner/inspection"
	"flitchbook/planner/invoice"
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
	id, err := o.OrderNumbered(o.Ctx, 1)
	o.must(err)
	o.must(o.TypeInvoice(o.Ctx, storetest.Odile, id, shop.Invoice{Party: shop.FarmBills, Number: "HB 77", Basis: invoice.Cold, Animals: 2, Weight: 3842 * unit.Pound / 10, PriceCents: 2_40, MeatCents: 922_08, HaulCents: 40_00, TotalCents: 962_08}))
	o.must(o.TypeInvoice(o.Ctx, storetest.Odile, id, shop.Invoice{Party: shop.PlantBills, Animals: 2, MeatCents: 140_00, TotalCents: 140_00}))
	b := browsertest.Start(t, o.e)
	for name, path := range map[string]string{"season": "/owner/season", "meat": "/owner/meat", "buying": "/owner/buying?count=full", "floor": "/owner/floor", "order": "/owner/orders/1", "farm": link,
		"troubles": "/owner/trouble", "trouble": "/owner/trouble/order-1",
		"slots": "/owner/slots", "prices": "/owner/prices", "invoices": "/owner/orders/1/invoices", "yield": "/owner/orders/1/yield", "farm-yield": link + "/yield",
		"weight": "/owner/meat/weight?kill=2026-10-07&species=pork&order=1&hang=200"} {
		b.On(t, name, path, 0, phoneAndDesk)
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

// The slider answers by itself where scripts run and by its button where they do not; the
// words are the server's either way (house outcome J3).
func TestHangSliderInABrowser(t *testing.T) {
	o := openOffice(t)
	o.Go("2026-09-14 10:00")
	o.bacon("B1", "2026-10-10 14:00", 10)
	o.must(o.PlanKills(o.Ctx, storetest.Odile, []string{"B1"}, unit.DayOf(2026, 10, 7)))
	b := browsertest.Start(t, o.e)
	const page = "/owner/meat/weight?kill=2026-10-07&species=pork"
	move := `(() => { const s = document.querySelector("#f-hang"); s.value = "200"; s.dispatchEvent(new Event("input", {bubbles: true})); return true })()`
	answer := `document.querySelector("#hang-answer").textContent.replace(/\s+/g, " ").includes(`
	tab := b.Tab(t, browsertest.Phone)
	tab.Open(page)
	tab.WaitFor(answer + `"12 slabs from 4 bellies")`)
	browsertest.Eval[bool](tab, move)
	tab.WaitFor(answer + `"12 slabs at 206.00 lb become 8")`)
	if shown := browsertest.Eval[string](tab, `document.querySelector("output").textContent`); shown != "200" {
		t.Errorf("the slider shows %q", shown)
	}
	tab.Axe()
	// The address is the question: reloaded, it gives the same answer.
	tab.Open(browsertest.Eval[string](tab, `location.pathname + location.search`))
	tab.WaitFor(answer + `"become 8")`)

	plain := b.Tab(t, browsertest.Phone)
	plain.NoScript()
	plain.Open(page)
	plain.Do(chromedp.Focus(chromedp.CSS("#f-hang")), chromedp.KeyEvent(kb.End), chromedp.Click(chromedp.CSS("form[data-live] button")), chromedp.WaitVisible(chromedp.CSS(`#f-hang[value="258"]`))) // of the next page
	plain.Shot("weight-noscript")
	text, err := chromedp.Run(plain.Context(), chromedp.TextContent(chromedp.CSS("#hang-answer h2")))
	if err != nil || text != "At 258.00 lb" {
		t.Errorf("without scripts, slid to the end: %q, %v", text, err)
	}
}

// A beef order with its quarters, the door's question, and a dinner's meat.
func TestQuarterPagesInABrowser(t *testing.T) {
	o := openOffice(t)
	o.Go("2026-08-20 10:00")
	_, err := o.AddClass(o.Ctx, storetest.Odile, shop.NewClass{Code: "D5", Kind: "beef", StartsAt: o.At("2026-11-12 18:00"), MinSeats: -1, DemoSlabs: -1})
	o.must(err)
	o.must(o.Publish(o.Ctx, storetest.Odile, "D5"))
	order, err := o.DraftOrder(o.Ctx, storetest.Odile, store.NewOrder{Kill: unit.DayOf(2026, 10, 27), Species: "beef", Animals: 1, Basis: "full", Classes: []string{"D5"}})
	o.must(err)
	_, err = o.SendOrder(o.Ctx, storetest.Odile, order.ID)
	o.must(err)
	_, err = o.AnswerOrderFor(o.Ctx, storetest.Odile, order.ID, shop.FarmAnswer{Says: "yes"})
	o.must(err)
	b := browsertest.Start(t, o.e)
	look := func(name, path string) {
		t.Helper()
		b.On(t, name, path, 0, phoneAndDesk)
	}
	o.Go("2026-10-27 12:30")
	look("beef-kill", "/staff/orders/1")
	lb := func(tenths int64) unit.Weight { return unit.Weight(tenths) * unit.Pound / 10 }
	_, err = o.RecordKill(o.Ctx, storetest.Odile, order.ID, []shop.KilledAnimal{{Tag: "NR-07", Hot: lb(7420), Age: inspection.Under30}})
	o.must(err)
	o.Go("2026-11-12 09:10")
	look("beef-door", "/staff/orders/1")
	_, err = o.ReceiveDelivery(o.Ctx, storetest.Tobias, order.ID, "EST. 0000-DEMO", []shop.DeliveredSide{
		{Animal: 1, Which: "LH", Cold: lb(1715)}, {Animal: 1, Which: "LF", Cold: lb(1865)}, {Animal: 1, Which: "RH", Cold: lb(1730)}, {Animal: 1, Which: "RF", Cold: lb(1880)}})
	o.must(err)
	look("beef-pieces", "/staff/orders/1")
	look("dinner-meat", "/staff/kitchen/D5/meat")
}
