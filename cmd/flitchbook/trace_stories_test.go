package main

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"flitchbook/api/shop"
)

// only is where a name that means one thing leads.
func (v *visitor) only(q string) string {
	v.t.Helper()
	res, body := v.get("/staff/trace?q=" + url.QueryEscape(q))
	if res.StatusCode != http.StatusSeeOther {
		v.t.Fatalf("tracing %q: %d %s", q, res.StatusCode, said(body))
	}
	return res.Header.Get("Location")
}

// Black pepper P-117 is called back on Thu Nov 5 at 11:00: opened Oct 9, used up Oct 20, in
// the jars PB and GP at B1 and B2 and in D1's roast. Nine slabs of seven bookings; what lies
// on the shelf is stopped (K06 1, K07 2, K09 1), what went home is told of (K01, K03, K04,
// K13: five slabs); Friedel's other four stay free; D1's eight guests of three bookings ate.
func TestStoryWhichPepper(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-11-05 11:00")
		nadia := h.signedIn(t, "tobias")
		began := time.Now()
		page := nadia.only("P-117")
		text := nadia.reads(page, "black pepper P-117", "9 slabs, 7 bookings: 4 in the house, 5 handed out", "8 dinner guests ate, 3 bookings", "on the table at B1, B2", "Put 4 slabs on hold", "Write to 7 parties")
		t.Logf("found and read in %s", time.Since(began).Round(time.Millisecond))
		if strings.Contains(text, "B3-") || strings.Contains(text, "B4-") {
			t.Errorf("later classes are in it: %s", text)
		}
		api := "/api/v1" + strings.TrimPrefix(page, "/staff")
		tr := nadia.ask(http.MethodGet, api, "", http.StatusOK)
		for _, c := range []struct{ what, got, want string }{
			{"slabs", fmt.Sprint(len(tr["slabs"].([]any))), "9"}, {"bookings", dig(tr, "bookings"), "7"}, {"here", dig(tr, "here"), "4"},
			{"out", dig(tr, "handed_out"), "5"}, {"out of", dig(tr, "handed_out_bookings"), "4"}, {"ate", dig(tr, "ate"), "8"}, {"ate of", dig(tr, "ate_bookings"), "3"},
		} {
			if c.got != c.want {
				t.Errorf("%s: %s, want %s", c.what, c.got, c.want)
			}
		}
		per, spices, pepper := map[string]int{}, map[string]int{}, map[string]bool{}
		for _, s := range tr["slabs"].([]any) {
			per[dig(s, "booking")]++
			spices[dig(s, "spice")]++
			pepper[dig(s, "tag")] = true
		}
		if got := fmt.Sprint(per); got != "map[K01:1 K03:2 K04:1 K06:1 K07:2 K09:1 K13:1]" {
			t.Errorf("slabs by booking: %s", got)
		}
		if spices["PB"] == 0 || spices["GP"] == 0 || len(spices) != 2 {
			t.Errorf("spices: %v", spices)
		}

		// Without a reason nothing happens, and the page says so beside its field.
		if res, body := nadia.post(page+"/hold", url.Values{}); res.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(said(body), "Say what is wrong") {
			t.Fatalf("no reason: %d %s", res.StatusCode, said(body))
		}
		reason := url.Values{"reason": {"Its maker has called this pepper back: salmonella was found in it."}}
		if res, body := nadia.post(page+"/hold", reason); res.StatusCode != http.StatusSeeOther {
			t.Fatalf("hold: %d %s", res.StatusCode, said(body))
		}
		nadia.reads("/staff/holds", "4 slabs on hold since Thu Nov 5, 11:00", "salmonella", "Opened by Tobias")
		held, err := h.Tags(t.Context(), "", shop.OnHold)
		if err != nil || len(held) != 4 {
			t.Errorf("on hold: %v, %v", held, err)
		}
		k07 := nadia.ask(http.MethodGet, "/api/v1/bookings/7", "", http.StatusOK)
		free := 0
		all, err := h.Tags(t.Context(), "B2", shop.OnShelf)
		if err != nil {
			t.Fatal(err)
		}
		for _, tag := range all {
			if v, err := h.Slab(t.Context(), tag); err == nil && v.Ref == "K07" {
				free++
			}
		}
		if free != 4 || k07 == nil {
			t.Errorf("%d of Friedel's slabs are free to fetch, want 4", free)
		}

		// At eleven at night the messages go all the same, one to each person.
		h.Clock.Set(h.Now() + 12*3600)
		for range 2 { // pressed twice, each is written to once
			if res, body := nadia.post(page+"/tell", reason); res.StatusCode != http.StatusSeeOther {
				t.Fatalf("tell: %d %s", res.StatusCode, said(body))
			}
		}
		var to []string
		back := shop.NoticeID(0)
		_, err = h.Deliver(t.Context(), func(_ context.Context, n shop.Notice, f shop.Facts) error {
			if n.Kind != shop.NoticeRecall {
				return nil
			}
			to = append(to, n.ToName)
			if n.ToName == "Dov H." {
				back = n.ID
			}
			for _, tag := range f.Tags {
				if !pepper[tag] {
					t.Errorf("%s is told of %s", n.ToName, tag)
				}
			}
			return nil
		})
		slices.Sort(to)
		if err != nil || fmt.Sprint(to) != "[Aurel C. Bo R. Dov H. Imke S. Mirabel I. Perpetua L. Stellan U.]" {
			t.Errorf("written to at %s: %q, %v", h.Now().Show(h.Loc), to, err)
		}
		odile := h.signedIn(t, "odile")
		if res, _ := odile.post(fmt.Sprintf("/owner/notices/%d/came-back", back), url.Values{}); res.StatusCode != http.StatusSeeOther {
			t.Fatalf("came back: %d", res.StatusCode)
		}
		nadia.reads(page, "7 messages: 6 sent, 0 waiting, 1 came back", "1 party not reached")
		if res, body := nadia.post(page+"/calls", url.Values{"booking": {"4"}, "words4": {""}, "reached": {"yes"}}); res.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(said(body), "whom you spoke to") {
			t.Errorf("an empty note: %d", res.StatusCode)
		}
		if res, body := nadia.post(page+"/calls", url.Values{"booking": {"4"}, "words4": {"his sister, she throws it away"}, "reached": {"yes"}}); res.StatusCode != http.StatusSeeOther {
			t.Fatalf("noting a call: %d %s", res.StatusCode, said(body))
		}
		nadia.reads(page, "everybody reached", "his sister, she throws it away")
		nadia.reads(page+"/sheet", "9 slabs, 7 bookings", "4 of them on hold", "Everybody reached", "D1", "K39", "ate", "ON HOLD")
		tr = nadia.ask(http.MethodGet, api, "", http.StatusOK)
		if dig(tr, "held") != "4" || dig(tr, "recall", "not_reached") != "0" || dig(tr, "recall", "messages") != "7" {
			t.Errorf("afterwards: held %s, %s not reached, %s messages", dig(tr, "held"), dig(tr, "recall", "not_reached"), dig(tr, "recall", "messages"))
		}
	})
}

// An inspector's question is answered in a minute: the folders of Nov 8 and 9 show the
// cooler's log, the hold of 04:15, Odile's reason and her name, on one address each. Then
// the drill picks any slab, its two questions are answered from the pages, and the
// grinding log of the beef refuses meat without a source and is reached from the animal.
func TestStoryInspectorAsks(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-11-12 12:00")
		tobias := h.signedIn(t, "tobias")
		for _, day := range []string{"2026-11-08", "2026-11-09"} {
			tobias.reads("/staff/days/"+day, "HOLD", "Cure cooler", "from Sun Nov 8, 04:15", "22 slabs", "B4-01", "Mon Nov 9, 09:40, Odile : released", "Door ajar from 02:00 to 07:30, peak 44.8 F", "To be kept to Sun Dec 31, 2028")
			if _, page := tobias.get("/staff/days/" + day); !strings.Contains(page, `<polyline class="log"`) {
				t.Errorf("%s: no log is drawn", day)
			}
		}
		f := tobias.ask(http.MethodGet, "/api/v1/days/2026-11-08", "", http.StatusOK)
		if n := len(f["rooms"].([]any)); n == 0 || dig(f, "holds", 0, "decisions", 0, "by") != "Odile" || dig(f, "holds", 0, "opened_at") != "2026-11-08T10:15:00Z" {
			t.Errorf("the folder by the API: %d rooms, hold %v", n, dig(f, "holds", 0))
		}
		tobias.reads("/staff/days/2026-10-10", "cure scale: the 5 g weight shows 5.00 g, passed", "B1-07", "120.0 ppm to 200.0 ppm", "+0.0 %", "weigh-outs")
		tobias.reads("/staff/days/2026-10-08", "Harl Bank, pork, order 2", "EST. 0000-DEMO", "HB-612 L", "Tobias")
		tobias.reads("/staff/days/2026-10-27", "Log of the load of Tue Oct 27", "Chill: pass", "smoke log")
		if res, body := tobias.get("/staff/days?day=2026-12-24"); res.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(said(body), "lies ahead") {
			t.Errorf("a day ahead: %d", res.StatusCode)
		}

		checkDrill(t, tobias)
		checkGrinding(t, tobias)
		// Retention: E-R1 and E-R3 (9 CFR 320.3(a) and (c)), on the invented shop's days.
		kept := tobias.ask(http.MethodGet, "/api/v1/records", "", http.StatusOK)
		if k := find(t, kept["records"], "what", "grinding"); dig(k, "keep_to") != "2027-11-12" {
			t.Errorf("grinding: %v", k)
		}
		if k := find(t, kept["records"], "what", "delivery"); dig(k, "keep_to") != "2028-12-31" {
			t.Errorf("delivery: %v", k)
		}
		tobias.reads("/staff/records", "erases none of this", "90 days", "Sun Dec 31, 2028", "Fri Nov 12, 2027")
		tobias.reads("/staff/lots", "bags BR-32", "black pepper P-121")

		// Every kind of thing leads somewhere, and what is ambiguous offers a choice.
		for q, want := range map[string]string{"B4-03": "/staff/trace/slab/B4-03", "br-31": "/staff/trace/lot/", "HB-612": "/staff/trace/animal/", "HB-612 L": "/staff/trace/", "order 2": "/staff/trace/delivery/",
			"harl bank": "/staff/trace/farm/harl", "Weirstone Yard": "/staff/trace/plant/", "smoke 2026-10-27": "/staff/trace/load/2026-10-27", "cure scale 2026-10-10": "/staff/trace/scale/",
			"PB 2026-10-09 to 2026-10-20": "/staff/trace/jar/PB?from=2026-10-09T05%3A00%3A00Z&until=2026-10-21T05%3A00%3A00Z", "cure cooler 2026-11-08 02:00 to 07:30": "/staff/trace/room/cure?from=2026-11-08T08%3A00%3A00Z&until=2026-11-08T13%3A30%3A00Z"} {
			if q == "HB-612 L" { // a side, and the belly of it
				tobias.reads("/staff/trace?q=HB-612+L", "HB-612 L", "belly HB-612 L")
				continue
			}
			if got := tobias.only(q); !strings.HasPrefix(got, want) {
				t.Errorf("%q leads to %s, want %s", q, got, want)
			}
		}
		tobias.reads("/staff/trace?q=pepper", "black pepper P-117", "black pepper P-121", "PB pepper & bay")
		tobias.reads("/staff/trace?q=nothing+like+it", "Nothing answers")
		tobias.reads(tobias.only("cure cooler 2026-11-08 02:00 to 07:30"), "22 slabs", "peak 44.8", "B5-01", "released")
		tobias.reads(tobias.only("order 2"), "12 slabs", "L2-2026-10-08", "K01 Imke S.")
		tobias.reads(tobias.only("smoke 2026-10-27"), "12 slabs", "B1-12")
		tobias.reads(tobias.only("PB 2026-10-09 to 2026-10-20"), "black pepper P-117", "B1-01", "B2-01")
		if text := tobias.reads(tobias.only("br-32"), "B3-01"); strings.Contains(text, "B1-01") {
			t.Error("the second roll is on a slab of the first")
		}
		for _, path := range []string{"/staff/trace/lot/99999", "/staff/trace/nothing/1", "/staff/trace/lot/x"} {
			if res, _ := tobias.get(path); res.StatusCode != http.StatusNotFound {
				t.Errorf("%s: %d", path, res.StatusCode)
			}
		}
		if res, body := tobias.get("/staff/trace/room/cure?from=soon"); res.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(body, `value="soon"`) {
			t.Errorf("a span that is none: %d, what was typed must stay", res.StatusCode)
		}
	})
}

func checkDrill(t *testing.T, v *visitor) {
	t.Helper()
	res, _ := v.post("/staff/drills", url.Values{})
	page := res.Header.Get("Location")
	if res.StatusCode != http.StatusSeeOther || !strings.HasPrefix(page, "/staff/drills/") {
		t.Fatalf("a drill: %d to %q", res.StatusCode, page)
	}
	list := v.ask(http.MethodGet, "/api/v1/drills", "", http.StatusOK)
	d := list["drills"].([]any)[0]
	if dig(d, "farm") != "<nil>" {
		t.Error("the answer stands beside the question")
	}
	began := time.Now()
	tr := v.ask(http.MethodGet, "/api/v1/trace/slab/"+dig(d, "tag"), "", http.StatusOK)
	took := time.Since(began)
	lot := find(t, tr["lots"], "ingredient", dig(d, "ingredient"))
	farm := dig(tr, "meat", 0, "farm")
	if res, _ := v.post(page, url.Values{"farm": {farm}, "lot": {"no such lot"}}); res.StatusCode != http.StatusSeeOther {
		t.Fatalf("answering: %d", res.StatusCode)
	}
	v.reads(page, "1 of 2 right", dig(lot, "code"), "no such lot")
	if res, _ := v.post(page, url.Values{"farm": {farm}, "lot": {dig(lot, "code")}}); res.StatusCode != http.StatusConflict {
		t.Errorf("an answer after the answer: %d", res.StatusCode)
	}
	again := v.ask(http.MethodPost, "/api/v1/drills", "", http.StatusOK)
	tr = v.ask(http.MethodGet, "/api/v1/trace/slab/"+dig(again, "tag"), "", http.StatusOK)
	body := fmt.Sprintf(`{"farm":%q,"lot":%q}`, strings.ToUpper(dig(tr, "meat", 0, "farm")), strings.ToLower(dig(find(t, tr["lots"], "ingredient", dig(again, "ingredient")), "code")))
	if done := v.ask(http.MethodPost, "/api/v1/drills/"+dig(again, "id"), body, http.StatusOK); dig(done, "right") != "2" {
		t.Errorf("answered from the records: %v", done)
	}
	v.reads("/staff/drills", dig(d, "tag"), "Tobias", "1 of 2", "2 of 2")
	t.Logf("%s: its whole way in %s over the wire; in the records %s µs", dig(d, "tag"), took.Round(time.Millisecond), dig(d, "records_took_us"))
}

// beefTag is the one beef of the story.
const beefTag = "NR-07"

func checkGrinding(t *testing.T, v *visitor) {
	t.Helper()
	if res, body := v.post("/staff/grind", url.Values{"product": {"ground beef"}, "weight": {"12"}}); res.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(said(body), "Without a source") || !strings.Contains(body, `value="12"`) {
		t.Fatalf("without a source: %d %s", res.StatusCode, said(body))
	}
	v.ask(http.MethodPost, "/api/v1/grinds", `{"product":"ground beef","sources":[{"lot":"7731"}]}`, http.StatusUnprocessableEntity)
	v.ask(http.MethodPost, "/api/v1/grinds", `{"product":"ground beef","sources":[{"animal":"no such"}]}`, http.StatusUnprocessableEntity)
	// The pattern of row E-R4 (9 CFR 320.1(b)(4)(iii)): cleaned, trim, another source
	// without cleaning, cleaned, a third.
	for _, body := range []string{
		`{"at":"2026-11-12T15:20:00Z","cleaned":true}`,
		`{"at":"2026-11-12T15:30:00Z","weight":"18 lb","sources":[{"animal":"BEEFTAG","material":"chuck trim"}]}`,
		`{"at":"2026-11-12T16:00:00Z","weight":"10 lb","sources":[{"establishment":"EST. 0001-DEMO","lot":"7731","made_on":"2026-11-09","material":"coarse ground"}]}`,
		`{"at":"2026-11-12T17:00:00Z","cleaned":true}`,
		`{"at":"2026-11-12T17:30:00Z","weight":"5 lb","sources":[{"establishment":"EST. 0001-DEMO","lot":"7732","made_on":"2026-11-10","material":"coarse ground"}]}`,
	} {
		v.ask(http.MethodPost, "/api/v1/grinds", strings.ReplaceAll(body, "BEEFTAG", beefTag), http.StatusOK)
	}
	log := v.ask(http.MethodGet, "/api/v1/grinds", "", http.StatusOK)
	var lots []string
	for _, l := range log["lots"].([]any) {
		lots = append(lots, fmt.Sprintf("%s+%s", dig(l, "sources"), dig(l, "carried_over")))
	}
	if n := len(lots); n != 3 || !strings.Contains(lots[0], "own trim, "+beefTag) || !strings.Contains(lots[1], "7731]+[") || !strings.Contains(lots[1], "own trim, "+beefTag) || !strings.HasSuffix(lots[2], "7732]+[]") {
		t.Errorf("lots %q", lots)
	}
	text := v.reads(v.only(beefTag), "Ground", "only what clung to the grinder", "Ninepenny Rise")
	if strings.Contains(text, "7732") {
		t.Error("what was ground after the cleaning hangs on the animal")
	}
	v.reads("/staff/grind", "own trim of "+beefTag, "EST. 0001-DEMO", "Fri Nov 12, 2027")
	v.reads("/staff/grind/sheet", "own trim of "+beefTag, "cleaned and sanitized")
	v.reads("/staff/days/2026-11-12", "grinder cleaned and sanitized", "EST. 0001-DEMO")
	v.only("7731")
}
