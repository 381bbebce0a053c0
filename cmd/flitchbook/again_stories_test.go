package main

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"flitchbook/api/store"
)

// The cooler door stood open (Sun Nov 8; invented shop, its rules on the probe and on
// holds): readings above 41 °F from 02:00 to 07:30, 44.8 at 05:15, 40.7 at 07:45. Two hours
// are not more than two hours, so the hold opens with the reading of 04:15. Branch A: Odile
// releases all 22 on Monday, and every date stands.
func TestStoryDoorStoodOpenReleased(t *testing.T) {
	h := storyAt(t, "", "2026-11-08 01:59")
	odile, tobias := h.signedIn(t, "odile"), h.signedIn(t, "tobias")
	mayWait := func() (out []string) { // messages to customers
		for _, n := range h.waiting(t) {
			if strings.HasPrefix(n, "hold") {
				out = append(out, n)
			}
		}
		return out
	}
	ready := dig(odile.ask(http.MethodGet, "/api/v1/slabs/B4-03", "", http.StatusOK), "ready_about")
	h.later(t, "2026-11-08 04:14")
	if n := len(list(odile.ask(http.MethodGet, "/api/v1/holds", "", http.StatusOK)["holds"])); n != 0 {
		t.Errorf("%d holds after the reading of 04:00, want none", n)
	}
	h.later(t, "2026-11-08 04:16")
	hold := list(odile.ask(http.MethodGet, "/api/v1/holds", "", http.StatusOK)["holds"])[0].(map[string]any)
	count := map[string]int{}
	for _, tag := range list(hold["tags"]) {
		count[fmt.Sprint(tag)[:2]]++
	}
	// 10:15 UTC is 04:15 in Chicago, an hour after the clocks went back a week before.
	if dig(hold, "opened_at") != "2026-11-08T10:15:00Z" || fmt.Sprint(count) != "map[B3:3 B4:8 B5:11]" {
		t.Errorf("held since %s: %v", dig(hold, "opened_at"), count)
	}
	board, err := h.Notices(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range board.Sent {
		if n.Kind == "hold-told" {
			t.Errorf("a customer is written to at night: %s", n.ToName)
		}
	}
	for _, n := range mayWait() { // 48 hours on is 04:15 too, so it waits for morning
		if !strings.HasPrefix(n, "hold-told") || !strings.Contains(n, "Tue Nov 10, 08:00") {
			t.Errorf("waits at 04:16: %s", n)
		}
	}
	if n := len(mayWait()); n != 12 {
		t.Errorf("%d messages wait for a decision, want one for each of 12 parties", n)
	}
	// This shop has no mail address of its own, so its alarm is the tablet's first line.
	tobias.reads("/staff/today", "22 slabs on hold since Sun Nov 8, 04:15: Cure cooler above 41 F for 2 h 15 min")
	h.later(t, "2026-11-08 07:46")
	if now := list(odile.ask(http.MethodGet, "/api/v1/holds", "", http.StatusOK)["holds"]); len(now) != 1 || len(list(now[0].(map[string]any)["tags"])) != 22 {
		t.Errorf("40.7 °F at 07:45 undid the hold: %v", now)
	}
	for _, number := range []int{14, 15, 19, 20, 21, 22, 23, 24, 25, 26, 27, 28} {
		if text := h.mySlabs(t, number); !strings.Contains(text, "being checked") || strings.Contains(text, "Ready about") {
			t.Errorf("K%d reads: %s", number, text)
		}
	}
	h.later(t, "2026-11-09 09:39")
	p := tobias.ask(http.MethodPost, "/api/v1/slabs/B4-03/steps", `{"step":"rinse"}`, http.StatusConflict)
	if !strings.Contains(dig(p, "detail"), "on hold since Sun 04:15") {
		t.Errorf("rinsing B4-03: %s", dig(p, "detail"))
	}
	decide := "/api/v1/holds/" + dig(hold, "id") + "/decisions"
	odile.ask(http.MethodPost, decide, `{"decision":"release","why":""}`, http.StatusUnprocessableEntity)
	h.later(t, "2026-11-09 09:41")
	if now := list(odile.ask(http.MethodGet, "/api/v1/holds", "", http.StatusOK)["holds"]); len(now) != 0 {
		t.Errorf("still held: %v", now)
	}
	for _, n := range mayWait() {
		if strings.HasPrefix(n, "hold-told") {
			t.Errorf("a message nobody needs any more: %s", n)
		}
	}
	if s := odile.ask(http.MethodGet, "/api/v1/slabs/B4-03", "", http.StatusOK); dig(s, "state") != "in cure" || dig(s, "ready_about") != ready {
		t.Errorf("B4-03 is %s, ready %s, was %s", dig(s, "state"), dig(s, "ready_about"), ready)
	}
	for number, day := range map[int]string{14: "Wed Nov 11", 15: "Wed Nov 11", 24: "Sat Nov 21"} {
		if text := h.mySlabs(t, number); !strings.Contains(text, day) || strings.Contains(text, "being checked") {
			t.Errorf("K%d reads: %s", number, text)
		}
	}
	// Solveig and Anselm can still be unbagged that Monday.
	h.later(t, "2026-11-09 10:01")
	rinsed := odile.ask(http.MethodGet, "/api/v1/slabs/B3-01", "", http.StatusOK)
	if dig(rinsed, "state") != "rinsed" {
		t.Errorf("B3-01 is %s", dig(rinsed, "state"))
	}
	odile.reads("/staff/days/2026-11-08", "from Sun Nov 8, 04:15", "22 slabs", "Mon Nov 9, 09:40, Odile : released")
	odile.reads("/staff/days/2026-11-09", "Mon Nov 9, 09:40, Odile : released", "Door ajar from 02:00 to 07:30")
}

// Branch B: she releases eleven and dumps B5's eleven. Ten slabs to cure again: 36 from the
// pigs of Nov 10 and 11, 33 wanted with every seat sold, so 3 free; 7 from unsold seats,
// latest class first: B8 4, B7 2, B6 1. Sealed Fri Nov 13, unbagged from Wed Nov 25, the
// 26th and 27th closed: Mon Nov 30, ready Wed Dec 2, with 10 of 16 hooks on Tue Dec 1; K30
// 2, K31 2, K32 1 and K36 1 fill the other 6; K33 3, K34 5 and K35 2 slip to Sat Dec 5.
func TestStoryDoorStoodOpenDumped(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-11-09 09:39")
		odile, tobias, nerys := h.signedIn(t, "odile"), h.signedIn(t, "tobias"), h.visitor(t)
		hold := dig(odile.ask(http.MethodGet, "/api/v1/holds", "", http.StatusOK), "holds", 0, "id")
		var b5 []string
		for n := 1; n <= 11; n++ {
			b5 = append(b5, fmt.Sprintf("B5-%02d", n))
		}
		odile.reads("/staff/dumped?hold="+hold+"&tags="+url.QueryEscape(strings.Join(b5, " ")), "If these are dumped and all are cured again", "Free slabs 3", "Sealed by staff Fri Nov 13", "10 of 16")
		body := `{"decision":"dump","tags":["` + strings.Join(b5, `","`) + `"],"why":"They were warm for hours, and B5 lay by the door."}`
		odile.ask(http.MethodPost, "/api/v1/holds/"+hold+"/decisions", body, http.StatusNoContent)
		var told []string
		for _, n := range h.waiting(t) {
			if strings.HasPrefix(n, "dumped to ") {
				told = append(told, n)
			}
		}
		if len(told) != 10 {
			t.Errorf("asked what they choose: %v", told)
		}
		h.later(t, "2026-11-09 13:01") // she releases the others at 09:40; Annika books B7 at 13:00
		plan := odile.ask(http.MethodGet, "/api/v1/dumped/plan?tags="+strings.Join(b5, ","), "", http.StatusOK)
		for _, v := range []struct{ what, got, want string }{
			{"slabs", dig(plan, "slabs"), "10"}, {"free", dig(plan, "free"), "3"}, {"short", dig(plan, "short"), "0"},
			{"seats off sale", fmt.Sprint(plan["seats_off_sale"]), "[map[class:B8 left:0 seats:4] map[class:B7 left:0 seats:2] map[class:B6 left:1 seats:1]]"},
			{"chain", dig(plan, "seal_on") + " " + dig(plan, "unbag_from") + " " + dig(plan, "unbag_on") + " " + dig(plan, "ready_about"), "2026-11-13 2026-11-25 2026-11-30 2026-12-02"},
			{"hooks", dig(plan, "hooks_taken") + " of " + dig(plan, "hooks"), "10 of 16"},
			{"beside", dig(plan, "beside"), "[K30 K31 K32 K36]"},
		} {
			if v.got != v.want {
				t.Errorf("%s: %s, want %s", v.what, v.got, v.want)
			}
		}
		slips := map[string]string{}
		for _, sl := range list(plan["slips"]) {
			slips[dig(sl, "party")] = dig(sl, "slabs") + " " + dig(sl, "old") + " " + dig(sl, "new")
		}
		if fmt.Sprint(slips) != "map[K33:3 2026-12-02 2026-12-05 K34:5 2026-12-02 2026-12-05 K35:2 2026-12-02 2026-12-05]" {
			t.Errorf("slips: %v", slips)
		}

		odile.reads("/staff/dumped", "B8: 4, then full; B7: 2, then full; B6: 1, 1 left on sale", "10 of 16", "Nobody is told by this")
		v, err := h.BookingByNumber(t.Context(), 28)
		if err != nil {
			t.Fatal(err)
		}
		mine := ids(nerys.ask(http.MethodGet, "/api/v1/my-slab/"+v.SlabSecret, "", http.StatusOK)["slabs"], "tag")
		page := nerys.reads("/s/"+v.SlabSecret, "We had to give your bacon up", "Cure another slab for me, with the same spice", "Another class", "All the money back")
		if strings.Contains(page, "$") {
			t.Errorf("a price on the slab page: %s", page)
		}
		// Another party's tag is nobody's here, and nothing typed is a choice.
		nerys.ask(http.MethodPost, "/api/v1/my-slab/"+v.SlabSecret+"/dumped", `{"tag":"B5-01","choice":"money"}`, http.StatusNotFound)
		if res, page := nerys.post("/s/"+v.SlabSecret+"/dumped", url.Values{"tag": {mine[0]}}); res.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(page, "choose one of the three") {
			t.Errorf("nothing chosen: %d", res.StatusCode)
		}
		for _, tag := range mine {
			if res, page := nerys.post("/s/"+v.SlabSecret+"/dumped", url.Values{"tag": {tag}, "choice": {"again"}}); res.StatusCode != http.StatusSeeOther {
				t.Fatalf("%s again: %d %s", tag, res.StatusCode, said(page))
			}
		}
		nerys.reads("/s/"+v.SlabSecret, "You chose: cured again for you")
		if res, page := nerys.post("/s/"+v.SlabSecret+"/dumped", url.Values{"tag": {mine[0]}, "choice": {"money"}}); res.StatusCode != http.StatusConflict || !strings.Contains(page, "chosen already") {
			t.Errorf("chosen twice: %d", res.StatusCode)
		}
		tobias.reads("/staff/today", "10 dumped slabs wait")
		for _, tag := range b5[:10] {
			if !slices.Contains(mine, tag) {
				tobias.ask(http.MethodPost, "/api/v1/dumped/"+tag, `{"choice":"again"}`, http.StatusOK)
			}
		}
		left := map[string]string{}
		for _, code := range []string{"B6", "B7", "B8"} {
			c := odile.ask(http.MethodGet, "/api/v1/classes/"+code, "", http.StatusOK)
			left[code] = dig(c, "left")
		}
		if fmt.Sprint(left) != "map[B6:1 B7:0 B8:0]" {
			t.Errorf("seats left: %v", left)
		}
		tobias.ask(http.MethodPost, "/api/v1/cured-again", `{"tags":[]}`, http.StatusForbidden)
		made := odile.ask(http.MethodPost, "/api/v1/cured-again", `{"tags":[]}`, http.StatusOK)
		if got := dig(made, "made"); got != "[B5-12 B5-13 B5-14 B5-15 B5-16 B5-17 B5-18 B5-19 B5-20 B5-21]" {
			t.Errorf("made: %s", got)
		}
		odile.ask(http.MethodPost, "/api/v1/cured-again", `{"tags":[ ]}`, http.StatusConflict)
		nerys.reads("/s/"+v.SlabSecret, "Ready about Wed Dec 2", "Not sealed yet")
		if s := odile.ask(http.MethodGet, "/api/v1/slabs/"+mine[0], "", http.StatusOK); dig(s, "state") != "replaced" {
			t.Errorf("%s is %s", mine[0], dig(s, "state"))
		}

		// On Friday morning, with the pigs here, every one of the ten stands on a cut list, out
		// of a belly that may be cut that day: the clinic's half gives its belly on the 19th.
		h.later(t, "2026-11-13 08:30")
		clinic := map[string]bool{}
		cut := map[string]string{}
		for _, order := range list(odile.ask(http.MethodGet, "/api/v1/orders", "", http.StatusOK)["orders"]) {
			n := dig(order, "number")
			if kill := dig(order, "kill"); kill != "2026-11-10" && kill != "2026-11-11" {
				continue
			}
			for _, b := range list(odile.ask(http.MethodGet, "/api/v1/orders/"+n+"/recount", "", http.StatusOK)["bellies"]) {
				clinic[n+" "+dig(b, "tag")] = dig(b, "clinic") == "D6"
			}
			for _, line := range list(tobias.ask(http.MethodPost, "/api/v1/orders/"+n+"/cutlist", "{}", http.StatusOK)["slabs"]) {
				cut[dig(line, "tag")] = n + " " + dig(line, "belly")
			}
		}
		for n := 12; n <= 21; n++ {
			tag := fmt.Sprintf("B5-%d", n)
			if of, known := clinic[cut[tag]]; !known || of {
				t.Errorf("%s is cut out of %q", tag, cut[tag])
			}
		}
		shown := 0
		for _, of := range clinic {
			if of {
				shown++
			}
		}
		if shown == 0 || len(cut) < 30 {
			t.Errorf("%d bellies of the clinic's, %d slabs on the cut lists: %v", shown, len(cut), cut)
		}
	})
}

// R34's other two answers: all the money back, to the cent of what was paid for the slab's
// seat, and another class, settled by staff in words or changed to money while it waits.
func TestStoryDumpedForMoneyOrAnotherClass(t *testing.T) {
	h := storyAt(t, "", "2026-11-09 09:39")
	odile, nadia, tamsin := h.signedIn(t, "odile"), h.signedIn(t, "tobias"), h.visitor(t)
	hold := dig(odile.ask(http.MethodGet, "/api/v1/holds", "", http.StatusOK), "holds", 0, "id")
	odile.ask(http.MethodPost, "/api/v1/holds/"+hold+"/decisions", `{"decision":"dump","tags":["B5-01","B5-02","B5-03"],"why":"They lay by the door."}`, http.StatusNoContent)
	book := func(n int) *store.BookingView {
		t.Helper()
		v, err := h.BookingByNumber(t.Context(), n)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	// K24 paid 2 × $95.00, K25 3 × $95.00.
	k24, k25 := book(24), book(25)
	if k24.Paid != 190_00 || k25.Paid != 285_00 {
		t.Fatalf("K24 paid %s, K25 %s", k24.Paid, k25.Paid)
	}
	if res, page := tamsin.post("/s/"+k24.SlabSecret+"/dumped", url.Values{"tag": {"B5-01"}, "choice": {"money"}}); res.StatusCode != http.StatusSeeOther {
		t.Fatalf("money: %d %s", res.StatusCode, said(page))
	}
	if v := book(24); v.Paid != 95_00 || v.Total != 95_00 || v.Owes != 0 {
		t.Errorf("K24 after one slab's money back: paid %s of %s, owes %s", v.Paid, v.Total, v.Owes)
	}
	var back []string
	for _, e := range list(odile.ask(http.MethodGet, "/api/v1/bookings/24/ledger", "", http.StatusOK)["entries"]) {
		for _, l := range list(e.(map[string]any)["lines"]) {
			if strings.Contains(dig(e, "text"), "B5-01") {
				back = append(back, dig(l, "account")+" "+dig(l, "amount"))
			}
		}
	}
	if len(back) < 2 {
		t.Errorf("the books know nothing of it: %v", back)
	}
	// Pressed again, nothing more goes back.
	tamsin.post("/s/"+k24.SlabSecret+"/dumped", url.Values{"tag": {"B5-01"}, "choice": {"money"}})
	if v := book(24); v.Paid != 95_00 {
		t.Errorf("pressed twice: paid %s", v.Paid)
	}
	// Her second slab, and one of Gwilym's: another class. His is changed to money at the counter.
	nadia.ask(http.MethodPost, "/api/v1/dumped/B5-02", `{"choice":"class"}`, http.StatusOK)
	nadia.ask(http.MethodPost, "/api/v1/dumped/B5-03", `{"choice":"class"}`, http.StatusOK)
	nadia.ask(http.MethodPost, "/api/v1/dumped/B5-02/settled", `{"note":"A seat in January, agreed on the phone."}`, http.StatusOK)
	nadia.ask(http.MethodPost, "/api/v1/dumped/B5-02", `{"choice":"money"}`, http.StatusConflict)
	nadia.ask(http.MethodPost, "/api/v1/dumped/B5-03", `{"choice":"money"}`, http.StatusOK)
	if v := book(25); v.Paid != 190_00 || v.Owes != 0 {
		t.Errorf("K25 after one slab's money back: paid %s, owes %s", v.Paid, v.Owes)
	}
	for _, sl := range list(nadia.ask(http.MethodGet, "/api/v1/dumped", "", http.StatusOK)["slabs"]) {
		want := map[string]string{"B5-01": "money $95.00", "B5-02": "class <nil>", "B5-03": "money $95.00"}[dig(sl, "tag")]
		if got := dig(sl, "choice") + " " + dig(sl, "back"); got != want || dig(sl, "waits_for") != "<nil>" {
			t.Errorf("%s: %s, waits for %s; want %s", dig(sl, "tag"), got, dig(sl, "waits_for"), want)
		}
	}
}
