package main

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
)

// What a class costs and brings (house outcome W3), by hand from the house's rules: a
// 206 lb pig at $2.40 + $70 + $20 is $584.40 against $628.90 of parts, factor 0.9292, and
// its belly costs $4.37 though it lists at $4.70. B5 on Oct 7: six seats of $95.00; seven
// slabs of 4.348 lb × $5.60 = $170.44, goods $33.95, 84 min $30.80, labour $145.00.
func TestStoryWhatASeatCosts(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-10-07 09:00")
		odile := h.signedIn(t, "odile")
		odile.reads("/owner/classes/B5/money", "Margin $189.81", "a seat costs $63.37", "6 of them", "$570.00", "30.44 lb at $5.60 a pound, demo included", "$170.44", "$33.95", "$30.80", "$95.00", "$50.00",
			"one pig of 206.00 lb, as usual, from Harl Bank: 206.00 lb hot $494.40 + kill $70.00 + haul $20.00 = $584.40 against $628.90 of parts: 92.92 % of what they sell for",
			"Belly costs $4.37 a pound so, and lists at $4.70")
		if res, _ := h.signedIn(t, "tobias").get("/owner/classes/B5/money"); res.StatusCode != http.StatusForbidden {
			t.Errorf("Tobias reads the money: %d", res.StatusCode)
		}
	})
	// B1 after its day: ten seats, one watching, a second slab; a sister paid $90.00 for
	// Dov's seat of $95.00. Slabs as weighed: 3 × 4.38 + 3 × 4.40 skinless × $5.60 =
	// $147.50, 3 × 4.60 + 3 × 4.64 skin on × $4.70 = $130.28; $58.20, 144 min $52.80, $145.00.
	h := storyAt(t, "", "2026-10-12 09:00")
	odile := h.signedIn(t, "odile")
	odile.reads("/owner/classes/B1/money", "covers a seat of $95.00, brought $90.00", "Income $1035.00", "$147.50", "$130.28", "Cost $533.78", "Margin income less cost $501.22", "slabs as weighed at the bench",
		"2 pigs of order 2, as they hung")
	odile.reads("/owner/money", "B1", "$501.22")
}

// Go-ahead is decided by the farm's date with the booking pace in view (house outcome
// W6): B4 on Tue Oct 6 has 3 sold of 10, minimum 6. Two pigs give 12 slabs, 3 seats and
// the demo take 4: the other 8 have a home.
func TestStoryGoAheadByTheFarmsDate(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-10-06 09:00")
		odile := h.signedIn(t, "odile")
		odile.reads("/owner/classes/B4/go", "Order its meat by Tue Oct 6, 17:00", "3 of 10, minimum 6", "3 short", "2 pigs of Harl Bank", "They feed D3, B4",
			"12 to be had, 4 spoken for as sold", "bellies have another home: 8 slabs to house bacon", "3 on hand; no earlier class to go by", "It is yours to say", "B4 goes ahead", "Call off…")
		// A dinner has no other home.
		odile.reads("/owner/classes/D3/go", "the dinner has no other home", "minimum 8 reached")
		// The sheet says nothing for her: only her own press does.
		odile.reads("/staff/classes/B4", "It is yours to say", "Go ahead?")
		if res, _ := odile.post("/staff/classes/B4/goahead", url.Values{}); res.StatusCode != http.StatusSeeOther {
			t.Fatalf("going ahead: %d", res.StatusCode)
		}
		if text := odile.reads("/owner/classes/B4/go", "going ahead"); strings.Contains(text, "B4 goes ahead") {
			t.Error("the sheet asks again")
		}
	})
	// Six weeks on there is a pace to stand beside: B8 has 6 five days before.
	h := storyAt(t, "", "2026-11-16 09:00")
	h.signedIn(t, "odile").reads("/owner/classes/B8/go", "6 on hand 5 days before; 7 earlier ones had", "Some of them were sold out", "5 slabs to house bacon")
}

// A farm's own figures beside the prior: by Nov 13 17 of Harl Bank's pigs had hung, 3,510
// lb hot, 206.47 lb each; with a prior of 206 lb that counts as five, (1,030 + 3,510) ÷ 22
// = 206.36 lb. Against what a week sells, two pigs leave pork without a home.
func TestStoryFarmsOwnFigures(t *testing.T) {
	h := storyAt(t, "", "2026-11-13 09:00")
	odile := h.signedIn(t, "odile")
	odile.reads("/owner/farms/harl", "Harl Bank, 17 pigs hung: 32 bellies of 34 gave three slabs skinless, 2 only with the skin on.", "hanging weight 206.00 lb 206.47 lb 17 206.36 lb 206.00 lb", "17, 1 condemned")
	odile.reads("/owner/farms/harl?prior=pork-nppc", "Prior: National Pork Producers Council", "184.00 lb 206.47 lb 17 201.36 lb 206.00 lb")
	if res, _ := odile.post("/owner/farms/harl/yield", url.Values{"species": {"pork"}, "prior": {""}}); res.StatusCode != http.StatusSeeOther {
		t.Fatalf("taking over: %d", res.StatusCode)
	}
	odile.reads("/owner/farms/harl", "17 pigs of its own, over the shop's own book, invented for the demo", "The shop reckons with these figures.")
}

// What an order leaves, in pounds and money, against what a week sells: B1's two pigs at
// what is expected of its class leave 99.91 lb of ham; the demo shop sells 70 over the
// counter at $2.60 and 20 as sausage at $1.50, and freezes the rest at $2.20.
func TestStoryWhatAnOrderLeaves(t *testing.T) {
	h := storyAt(t, "", "2026-10-07 09:00")
	odile := h.signedIn(t, "odile")
	odile.reads("/owner/meat", "ham 99.91 lb counter 70.00 lb, $182.00; sausage 20.00 lb, $30.00; freezer 9.91 lb, $21.80", "rest 48.36 lb sausage 30.00 lb, $16.50", "18.36 lb without a home")
	odile.reads("/owner/outlets", "Pork: ham", "On the value list at $2.60 a pound")
}

// House rule R1 once more, by the owner's own hand: bacon seats at $115.00 from Wed Oct 21,
// 09:00. Visitors read the new price from that minute on; who had booked pays the old one.
// A price to come is taken back, one that was asked for is not, and only the owner may.
func TestStoryPriceRise(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-10-20 12:00")
		odile, nadia, guest := h.signedIn(t, "odile"), h.signedIn(t, "tobias"), h.visitor(t)
		odile.reads("/owner/season", "Prices")
		odile.reads("/owner/prices", "Bacon-curing class, seat with a slab", "$105.00", "watching seat", "$30.00", "Grazing evening, seat", "$48.00")
		set := url.Values{"seat": {"bacon slab"}, "price": {"115"}, "from": {"2026-10-19T09:00"}}
		res, body := odile.post("/owner/prices", set)
		if res.StatusCode != 422 || !strings.Contains(said(body), "That moment is past") || !strings.Contains(body, `value="115"`) || !strings.Contains(body, `value="bacon slab" selected`) {
			t.Errorf("a moment past: %d %s", res.StatusCode, said(body))
		}
		set.Set("price", "a lot")
		if res, body = odile.post("/owner/prices", set); res.StatusCode != 422 || !strings.Contains(said(body), "Write a price such as 105") {
			t.Errorf("no price: %d %s", res.StatusCode, said(body))
		}
		set.Set("price", "115")
		set.Set("from", "2026-10-21T09:00")
		if res, _ = nadia.post("/owner/prices", set); res.StatusCode != 403 {
			t.Errorf("staff sets a price: %d", res.StatusCode)
		}
		if res, body = odile.post("/owner/prices", set); res.StatusCode != 303 {
			t.Fatalf("set: %d %s", res.StatusCode, said(body))
		}
		odile.reads("/owner/prices", "$115.00", "Wed Oct 21, 09:00", "to come", "$105.00")
		guest.reads("/classes/B8", "$105.00")
		h.goTo("2026-10-21 09:00")
		guest.reads("/classes/B8", "$115.00")
		guest.reads("/", "$115.00")
		nadia.reads("/staff/bookings/37", "$380.00") // four at $95.00
		out := odile.ask("POST", "/api/v1/prices", `{"kind":"bacon","seat":"slab","price":"$125.00","from":"2026-12-01T09:00:00-06:00"}`, 200)
		var ahead, now string
		for _, l := range list(out["prices"]) {
			if dig(l, "kind") == "bacon" && dig(l, "seat") == "slab" {
				if dig(l, "to_come") == "true" {
					ahead = dig(l, "id")
				} else {
					now = dig(l, "id")
				}
			}
		}
		if res, body := odile.json("POST", "/api/v1/prices/"+now+"/back", ""); res.StatusCode != 409 || !strings.Contains(body, "has been asked for since") {
			t.Errorf("a price asked for is taken back: %d %s", res.StatusCode, body)
		}
		odile.ask("POST", "/api/v1/prices/"+ahead+"/back", "", 200)
		if strings.Contains(odile.reads("/owner/prices"), "$125.00") {
			t.Error("the price to come is still there")
		}
	})
}
