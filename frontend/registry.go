package frontend

import (
	"fmt"
	"maps"
)

// A Kind of page is the layout it stands in: a file in templates/layout.
type Kind string

// The layouts.
const (
	Public Kind = "public" // customers, on their phones
	Shop   Kind = "shop"   // signed-in people, with navigation
	Paper  Kind = "paper"  // prints on A4 and Letter
)

// A Page says in which layout templates/<name>.html stands and which struct it is
// executed with. Data is the zero value of that struct; it embeds Layout, or Sheet
// when the layout is Paper.
type Page struct {
	Kind Kind
	Data any
}

// Pages is the site: page name to page. Each group of pages keeps its own list in
// the file of its subject and is named here once.
func Pages() map[string]Page {
	all := map[string]Page{}
	for _, group := range []map[string]Page{
		errorPages,
		demoPages,
		loginPages,
		classesPages,
		privatePages,
		personDataPages,
		afterPages,
		answerPagePages,
		bookPages,
		payPages,
		myBookingPages,
		leavePages,
		guestPages,
		voucherPages,
		voucherCardPages,
		benchPages,
		rackPages,
		roomPages,
		lostPages,
		amendPages,
		smokeLogPages,
		shelfPages,
		kitPages,
		sealingPages,
		mySlabPages,
		seasonPages,
		reviewPages,
		meatPages,
		troublePages,
		buyingPages,
		orderPages,
		slotPages,
		hangPages,
		invoicePages,
		yieldNotePages,
		farmPages,
		kitchenPages,
		dinnerMeatPages,
		calendarPages,
		noticePages,
		classListPages,
		doorPages,
		findPages,
		counterBookPages,
		counterBookingPages,
		counterLeavePages,
		personPages,
		counterVoucherPages,
		farmYieldPages,
		cuttingTestPages,
		outletPages,
		limitPages,
		classMoneyPages,
		ledgerPages,
		goSheetPages,
		tracePages,
		dinnerLotPages,
		dishPages,
		pricePages,
		dayPages,
		drillPages,
		lotPages,
		grindPages,
	} {
		for name := range group {
			if _, twice := all[name]; twice {
				panic(fmt.Sprintf("frontend: page %q is registered twice", name))
			}
		}
		maps.Copy(all, group)
	}
	return all
}
