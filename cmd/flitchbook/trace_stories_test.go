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
