package main

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"flitchbook/api/shop"
)

// waiting is what has been left for sending: "class-moved to Leocadia V.".
func (h *house) waiting(t *testing.T) []string {
	t.Helper()
	board, err := h.Notices(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, n := range board.Waiting {
		out = append(out, fmt.Sprintf("%s to %s, %s", n.Kind, n.ToName, n.DueAt.Show(h.Loc)))
	}
	if board.More > 0 {
		out = append(out, fmt.Sprintf("and %d more", board.More))
	}
	return out
}

// find is the object of a JSON list whose key has a value.
func find(t *testing.T, list any, key, value string) map[string]any {
	t.Helper()
	rows, _ := list.([]any)
	for _, r := range rows {
		if dig(r, key) == value {
			return r.(map[string]any)
		}
	}
	t.Fatalf("nothing whose %s is %q in %v", key, value, list)
	return nil
}

func ids(list any, key string) []string {
	var out []string
	rows, _ := list.([]any)
	for _, r := range rows {
		out = append(out, dig(r, key))
	}
	return out
}

// One of four pigs is condemned (Thu Oct 22): 18 slabs where B3 and P2 want 20. Skin on
// gives nothing, the two demos close the gap, no guest is touched or told. Farm $1,483.20
// (3 × 206 lb at $2.40), plant $280.00 (4 × $70), haul $60.00 (3 × $20); 503.5 lb are left
// to sell, not 671.4.
func TestStoryOneOfFourCondemned(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-10-22 08:30")
		odile := h.signedIn(t, "odile")
		odile.reads("/owner/trouble", "Order 4: 18 slabs of 20 wanted, short 2", "B3 Sat Oct 24, 13:00, 10 people", "P2 Sat Oct 24, 17:30, 8 people")
		odile.reads("/owner/trouble/order-4", "Condemned at inspection: 1. Promised 4, delivered 3.", "farm $1483.20, plant $280.00, haul $60.00", "leaves 503.50 lb",
			"Bacon promised about Sat Nov 7", "3 × 5.06 lb either way", "K16 Brigid O.", "K18 Dunmore family")
		s := odile.ask(http.MethodGet, "/api/v1/troubles/order-4", "", http.StatusOK)
		if dig(s, "short") != "2" || dig(s, "plans", 0, "ids") != "[demo:B3:1 demo:P2:1]" || dig(s, "plans", 0, "costs") != "2 slabs of the shop's own; no guest is touched" {
			t.Errorf("the sheet: short %s, first plan %s (%s)", dig(s, "short"), dig(s, "plans", 0, "ids"), dig(s, "plans", 0, "costs"))
		}
		for _, w := range s["ways"].([]any) {
			if dig(w, "way") == "skin on" && (dig(w, "gain") != "0" || dig(w, "id") != "<nil>") {
				t.Errorf("skin on: %v", w)
			}
			if (dig(w, "people") != "0") != (dig(w, "way") == "call off") {
				t.Errorf("%s tells %s people otherwise", dig(w, "way"), dig(w, "people"))
			}
		}
		before := h.waiting(t)
		odile.ask(http.MethodPost, "/api/v1/troubles/order-4/ways", `{"ways":["demo:B3:1","demo:P2:1","skin:999"]}`, http.StatusConflict)
		if r := odile.ask(http.MethodGet, "/api/v1/orders/4/recount", "", http.StatusOK); dig(r, "short") != "2" {
			t.Errorf("after a refused press short %s: all are taken or none", dig(r, "short"))
		}
		_, page := odile.get("/owner/trouble/order-4")
		once := formField.FindStringSubmatch(page)
		press := url.Values{"once": {once[2]}, "way": {"demo:B3:1", "demo:P2:1"}}
		for range 2 { // pressed twice it counts once
			if res, page := odile.post("/owner/trouble/order-4/ways", press); res.StatusCode != http.StatusSeeOther {
				t.Fatalf("dropping both demos: %d %s", res.StatusCode, said(page))
			}
		}
		r := odile.ask(http.MethodGet, "/api/v1/orders/4/recount", "", http.StatusOK)
		odile.ask(http.MethodGet, "/api/v1/troubles/order-4", "", http.StatusNotFound)
		odile.reads("/owner/trouble", "Nothing is wrong")
		if dig(r, "slabs") != "18" || dig(r, "wanted") != "18" || dig(r, "short") != "0" {
			t.Errorf("afterwards %s slabs of %s, short %s", dig(r, "slabs"), dig(r, "wanted"), dig(r, "short"))
		}
		if after := h.waiting(t); !slices.Equal(before, after) {
			t.Errorf("somebody is written to: %v, before %v", after, before)
		}
		for _, code := range []string{"B3", "P2"} {
			odile.reads("/staff/classes/"+code+"/sheet", "No demo slab")
		}
		odile.reads("/owner/orders/4", "asked 4, promised 4, delivered 3", "condemned 1", "$1483.20", "$280.00", "$60.00", "503.50 lb")
	})
}

// The kill floor closes for deer season, typed in on Mon Oct 5: D6 (9 people) and B8 (its
// meat only) are touched. B8's meat moves to the kill of Wed Nov 11 by itself, no guest is
// told. For D6 three days fit, nearest first; the owner takes Wed Nov 18, K52 accepts,
// K53 has $495.00 back, and at six of eight the class waits for a person's word.
func TestStoryFloorCloses(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-10-05 08:59")
		odile := h.signedIn(t, "odile")
		odile.ask(http.MethodPost, "/api/v1/meat/plan", `{"classes":["B8"],"kill":"2026-11-18"}`, http.StatusNoContent)
		const closure = `{"from":"2026-11-16","to":"2026-11-29","species":["pork","beef"],"reason":"deer season","look":%v}`
		look := odile.ask(http.MethodPost, "/api/v1/meat/floor", fmt.Sprintf(closure, true), http.StatusOK)
		d6, b8 := find(t, look["touched"], "class", "D6"), find(t, look["touched"], "class", "B8")
		if len(look["touched"].([]any)) != 2 || dig(d6, "people") != "9" || dig(d6, "instead") != "[2026-11-18 2026-11-17 2026-12-03]" {
			t.Errorf("D6: %s people, instead %s", dig(d6, "people"), dig(d6, "instead"))
		}
		if dig(b8, "meat_only") != "true" || dig(b8, "new_kill") != "2026-11-11" {
			t.Errorf("B8: %v", b8)
		}
		before := h.waiting(t)
		odile.ask(http.MethodPost, "/api/v1/meat/floor", fmt.Sprintf(closure, false), http.StatusOK)
		if after := h.waiting(t); !slices.Equal(before, after) {
			t.Errorf("the closure writes to somebody: %v, before %v", after, before)
		}

		odile.reads("/owner/trouble/class-D6", "D6 has no meat", "9 people in 2 bookings", "K52 Leocadia V.", "K53 Barnaby E.", "$495.00",
			"Kill Wed Nov 11: 8 days before the class, at most 7", "Kill Tue Nov 17: closed Mon Nov 16 to Sun Nov 29: deer season")
		sheet := odile.ask(http.MethodGet, "/api/v1/troubles/class-D6", "", http.StatusOK)
		if got := fmt.Sprint(ids(sheet["ways"], "what")); got != "[Wed Nov 18 Tue Nov 17 Thu Dec 3 D6]" {
			t.Errorf("ways: %s", got)
		}
		way := dig(sheet, "ways", 0, "id")
		if why := dig(sheet, "ways", 0, "why"); !strings.Contains(why, "kill Wed Nov 11, hangs 7 days") {
			t.Errorf("the nearest: %s", why)
		}
		odile.ask(http.MethodPost, "/api/v1/troubles/class-D6/ways", fmt.Sprintf(`{"ways":[%q]}`, way), http.StatusUnprocessableEntity) // without a reason
		odile.ask(http.MethodPost, "/api/v1/troubles/class-D6/ways", fmt.Sprintf(`{"ways":[%q],"reason":"the slaughterhouse is closed that week"}`, way), http.StatusOK)
		odile.ask(http.MethodGet, "/api/v1/troubles/class-D6", "", http.StatusNotFound)
		moved := 0
		for _, n := range h.waiting(t) {
			if strings.HasPrefix(n, "class-moved to Leocadia V.") || strings.HasPrefix(n, "class-moved to Barnaby E.") {
				moved++
			}
		}
		if moved != 2 {
			t.Errorf("%d of two payers are asked: %v", moved, h.waiting(t))
		}

		// Both classes from one kill, two pigs; order by Wed Oct 21.
		kill := find(t, odile.ask(http.MethodGet, "/api/v1/meat", "", http.StatusOK)["kills"], "kill", "2026-11-11")
		if dig(kill, "classes") != "[D6 B8]" || dig(kill, "full", "animals") != "2" {
			t.Errorf("kill of Nov 11: %s, %s animals", dig(kill, "classes"), dig(kill, "full", "animals"))
		}
		odile.reads("/owner/meat", "Order by Wed Oct 21, 17:00")
		for number, choice := range map[int]string{52: "accept", 53: "money"} {
			if res, page := odile.post(fmt.Sprintf("/staff/bookings/%d/answer", number), url.Values{"choice": {choice}}); res.StatusCode != http.StatusSeeOther {
				t.Fatalf("K%d chooses %s: %d %s", number, choice, res.StatusCode, said(page))
			}
		}
		k52 := odile.ask(http.MethodGet, "/api/v1/bookings/52", "", http.StatusOK)
		k53 := odile.ask(http.MethodGet, "/api/v1/bookings/53", "", http.StatusOK)
		if dig(k52, "paid") != "$396.00" || dig(k52, "owes") != "$594.00" {
			t.Errorf("K52 paid %s, owes %s", dig(k52, "paid"), dig(k52, "owes"))
		}
		odile.reads("/staff/bookings/52", "$594.00", "Wed Nov 4")
		if dig(k53, "paid") != "$0.00" || dig(k53, "state") != "called off" {
			t.Errorf("K53 paid %s, %s", dig(k53, "paid"), dig(k53, "state"))
		}
		odile.reads("/staff/classes/D6", "6", "Wed Nov 18")
		c, err := h.AnyClass(t.Context(), "D6")
		if err != nil || c.Taken != 6 || c.State != "open" || c.StartsAt.Show(h.Loc) != "Wed Nov 18, 18:00" {
			t.Errorf("D6: %d seats, %s, %s, %v", c.Taken, c.State, c.StartsAt.Show(h.Loc), err)
		}

		// Her reminders have moved with the class: seven days and one day before.
		h.Clock.Set((c.Day - 1).At(10, 0, h.Loc))
		var soon []string
		_, err = h.Deliver(t.Context(), func(_ context.Context, n shop.Notice, _ shop.Facts) error {
			if n.Kind == shop.NoticeClassSoon && n.ToName == "Leocadia V." {
				soon = append(soon, n.DueAt.Show(h.Loc))
			}
			return nil
		})
		if err != nil || fmt.Sprint(soon) != "[Wed Nov 11, 10:00 Tue Nov 17, 10:00]" {
			t.Errorf("reminders %v, %v", soon, err)
		}
	})
}

// The farm says fewer on Tue Sep 29: three of four pigs for B3 and P2. The plan changes at
// once, 18 slabs of 6 a pig; nobody's promise does, and nobody is written to. What is on
// sale beyond the meat comes off sale when the owner presses.
func TestStoryFarmSaysFewer(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-09-28 10:05")
		odile := h.signedIn(t, "odile")
		before := h.waiting(t)
		odile.ask(http.MethodPost, "/api/v1/orders/4/answer", `{"answer":"fewer","animals":3,"words":"one is not ready"}`, http.StatusOK)
		s := odile.ask(http.MethodGet, "/api/v1/troubles/order-4", "", http.StatusOK)
		odile.reads("/owner/trouble", "Order 4: 2 seats on sale that no slab is coming for")
		odile.reads("/owner/trouble/order-4", "Harl Bank says fewer: 3 of 4 pigs, kill Wed Oct 21.")
		b3, p2 := find(t, s["touched"], "class", "B3"), find(t, s["touched"], "class", "P2")
		sold, unfed := 0, 0
		for _, c := range []map[string]any{b3, p2} {
			var n int
			_, _ = fmt.Sscan(dig(c, "slabs_wanted"), &n)
			sold += n
			_, _ = fmt.Sscan(dig(c, "seats_on_sale_without_a_slab"), &n)
			unfed += n
		}
		// K14 2, K15 1 and a demo; K18 8 and a demo; 18 − 13 = 5 for B3's seven seats on sale.
		if sold != 13 || unfed != 2 || dig(s, "short") != "0" {
			t.Errorf("%d slabs wanted, short %s, %d seats on sale without one", sold, dig(s, "short"), unfed)
		}
		other := find(t, s["ways"], "way", "ask another farm")
		if dig(other, "what") != "Lampwick Hollow" || dig(other, "id") != "<nil>" {
			t.Errorf("another farm: %v", other)
		}
		unsold := find(t, s["ways"], "way", "unsold seats")
		if dig(unsold, "id") != "unsold:B3:2" || dig(unsold, "money") != "$190.00" {
			t.Errorf("off sale: %v", unsold)
		}
		// A letter to the farm goes when it is sent, as edited, once.
		for range 2 {
			res, page := odile.post("/owner/trouble/order-4/letters/farm", url.Values{"subject": {"The fourth pig"}, "body": {"Could a neighbour help?\n\nRing us, please."}, "to": {"farm"}})
			if res.StatusCode != http.StatusSeeOther {
				t.Fatalf("the letter: %d %s", res.StatusCode, said(page))
			}
		}
		letters := 0
		for _, n := range h.waiting(t) {
			if strings.HasPrefix(n, "letter to Harl Bank") {
				letters++
			}
		}
		if letters != 1 {
			t.Errorf("%d letters wait", letters)
		}
		odile.reads("/owner/trouble/order-4", "Write to Harl Bank: written")
		if res, page := odile.post("/owner/trouble/order-4/letters/farm", url.Values{"subject": {""}, "body": {"kept as typed"}, "to": {"farm"}}); res.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(page, "kept as typed") {
			t.Errorf("without a subject: %d", res.StatusCode)
		}

		public := h.visitor(t)
		if c := find(t, public.ask(http.MethodGet, "/api/v1/classes", "", http.StatusOK)["classes"], "code", "B3"); dig(c, "seats_left") != "7" && dig(c, "left") != "7" {
			t.Errorf("before the press: %v", c)
		}
		odile.ask(http.MethodPost, "/api/v1/troubles/order-4/ways", `{"ways":["unsold:B3:2"]}`, http.StatusOK)
		if c := find(t, public.ask(http.MethodGet, "/api/v1/classes", "", http.StatusOK)["classes"], "code", "B3"); dig(c, "seats_left") != "5" && dig(c, "left") != "5" {
			t.Errorf("after it: %v", c)
		}
		odile.reads("/owner/trouble", "Nothing is wrong")
		for _, n := range h.waiting(t) {
			if !slices.Contains(before, n) && !strings.HasPrefix(n, "farm-answered") && !strings.HasPrefix(n, "letter to Harl Bank") && !strings.HasPrefix(n, "and ") {
				t.Errorf("somebody is written to: %s", n)
			}
		}
	})
}

// The second pig hangs light (Thu Oct 8): any two of the demo and the two skins close the
// gap, and one press takes both skins.
func TestStoryTroubleOfALightPig(t *testing.T) {
	h := storyAt(t, "", "2026-10-08 15:31")
	odile := h.signedIn(t, "odile")
	s := odile.ask(http.MethodGet, "/api/v1/troubles/order-2", "", http.StatusOK)
	plans := ids(s["plans"], "text")
	if want := []string{"drop demo, B1, 1 demo slab and skin on, pig 2 L", "drop demo, B1, 1 demo slab and skin on, pig 2 R", "skin on, pig 2 L and skin on, pig 2 R"}; !slices.Equal(plans, want) {
		t.Errorf("plans: %q", plans)
	}
	both, _ := s["plans"].([]any)[2].(map[string]any)
	before := h.waiting(t)
	odile.ask(http.MethodPost, "/api/v1/troubles/order-2/ways", fmt.Sprintf(`{"ways":[%q,%q]}`, dig(both, "ids", 0), dig(both, "ids", 1)), http.StatusOK)
	r := odile.ask(http.MethodGet, "/api/v1/orders/2/recount", "", http.StatusOK)
	if dig(r, "slabs") != "12" || dig(r, "short") != "0" {
		t.Errorf("%s slabs, short %s", dig(r, "slabs"), dig(r, "short"))
	}
	odile.ask(http.MethodGet, "/api/v1/troubles/order-2", "", http.StatusNotFound)
	if after := h.waiting(t); !slices.Equal(before, after) {
		t.Errorf("somebody is written to: %v", after)
	}
	h.signedIn(t, "tobias").ask(http.MethodGet, "/api/v1/troubles", "", http.StatusForbidden)
}

// The plant slides a kill: what it touches is said before it is saved, places and dates
// move with it, the farm is written to once, no guest is; a day after the class is shown
// as what it is.
func TestStoryKillSlides(t *testing.T) {
	h := storyAt(t, "", "2026-10-14 18:00")
	odile := h.signedIn(t, "odile")
	n := dig(find(t, odile.ask(http.MethodGet, "/api/v1/meat", "", http.StatusOK)["kills"], "kill", "2026-11-04"), "order")
	late := odile.ask(http.MethodPost, "/api/v1/orders/"+n+"/kill-day", `{"to":"2026-11-10","look":true}`, http.StatusOK)
	if dig(late, "fits") != "false" || dig(late, "touched", 0, "class") != "B5" || dig(late, "touched", 0, "why") != "its meat would not be delivered by the class" {
		t.Errorf("a kill after the class: %v", late)
	}
	before := h.waiting(t)
	soon := odile.ask(http.MethodPost, "/api/v1/orders/"+n+"/kill-day", `{"to":"2026-11-03","look":true}`, http.StatusOK)
	if dig(soon, "fits") != "true" || dig(soon, "touched", 0, "why") != "4 days before the class" || dig(soon, "delivery") != "2026-11-05" {
		t.Errorf("a day earlier: %v", soon)
	}
	if after := h.waiting(t); !slices.Equal(before, after) {
		t.Errorf("looking writes to somebody: %v", after)
	}
	odile.ask(http.MethodPost, "/api/v1/orders/"+n+"/kill-day", `{"to":"2026-11-03"}`, http.StatusOK)
	sheet := odile.ask(http.MethodGet, "/api/v1/meat", "", http.StatusOK)
	if k := find(t, sheet["kills"], "kill", "2026-11-03"); dig(k, "classes") != "[B5]" || dig(k, "places", "taken") != "2" || dig(k, "order") != n {
		t.Errorf("kill of Nov 3: %v", k)
	}
	told := 0
	for _, x := range h.waiting(t) {
		if slices.Contains(before, x) {
			continue
		}
		if strings.HasPrefix(x, "order-changed to Harl Bank") {
			told++
		} else if !strings.HasPrefix(x, "and ") {
			t.Errorf("somebody is written to: %s", x)
		}
	}
	if told != 1 {
		t.Errorf("the farm is told %d times", told)
	}
}

// A class called off after its meat was ordered: who has yet to choose, and homes for the
// meat.
func TestStoryCalledOffAfterOrderBy(t *testing.T) {
	h := storyAt(t, "", "2026-10-07 09:00")
	odile := h.signedIn(t, "odile")
	if res, page := odile.post("/staff/classes/B4/calloff", url.Values{"reason": {"the teacher is ill"}, "sure": {"yes"}}); res.StatusCode != http.StatusSeeOther {
		t.Fatalf("calling B4 off: %d %s", res.StatusCode, said(page))
	}
	odile.reads("/owner/trouble", "B4 is called off, and Order 5 still brings its meat")
	s := odile.ask(http.MethodGet, "/api/v1/troubles/off-B4", "", http.StatusOK)
	// Two pigs of six slabs; the half D3 takes apart gives its belly the day after.
	if w := find(t, s["ways"], "way", "house bacon"); dig(w, "what") != "12 slabs" || dig(w, "people") != "0" {
		t.Errorf("house bacon: %v", w)
	}
	if b := dig(s, "touched", 0, "bookings", 0, "ref"); b != "K19" {
		t.Errorf("the first to choose: %s", b)
	}
	find(t, s["ways"], "way", "call the order off")
}
