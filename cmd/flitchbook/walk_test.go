package main

import (
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"flitchbook/frontend"
	"flitchbook/planner/unit"
)

var formField = regexp.MustCompile(`<input type="hidden" name="([^"]+)" value="([^"]*)"`)

// From the season page to a paid seat, by pages alone and without a script: on Tuesday
// October 20 at eight in the evening B5 has two seats left, at the price that has risen
// that morning, and its bacon is ready about Sat Nov 21.
func TestStorySeasonToPaidSeat(t *testing.T) {
	h := storyAt(t, "", "2026-10-20 20:09")
	v := h.visitor(t)
	v.reads("/", "Cure your own bacon", "$105.00", "Sat Nov 21")
	v.reads("/classes/B5", "2 seats left", "$105.00", "Sat Nov 21")
	res, page := v.get("/classes/B5/book?seats=2")
	if res.StatusCode != http.StatusOK {
		t.Fatalf("the form: %d", res.StatusCode)
	}
	form := url.Values{}
	for _, m := range formField.FindAllStringSubmatch(page, -1) {
		if m[1] != "" {
			form.Set(m[1], m[2])
		}
	}
	form.Set("seats", "2")
	form.Set("name", "Nerys D.")
	form.Set("email", "nerys at home")
	form.Set("p1_needs", "not told")
	form.Set("p2_needs", "not told")
	res, page = v.post("/classes/B5/book", form)
	if res.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(page, `value="Nerys D."`) || !strings.Contains(page, `value="nerys at home"`) {
		t.Fatalf("a wrong address: %d, and what was typed must be kept: %s", res.StatusCode, said(page))
	}
	form.Set("email", "nerys@post.example.test")
	res, page = v.post("/classes/B5/book", form)
	pay := res.Header.Get("Location")
	if res.StatusCode != http.StatusSeeOther || !strings.HasSuffix(pay, "/pay") {
		t.Fatalf("booking: %d to %q: %s", res.StatusCode, pay, said(page))
	}
	// Pressed twice, it counts once.
	if res, _ := v.post("/classes/B5/book", form); res.Header.Get("Location") != pay {
		t.Errorf("pressed twice it leads to %q, not to %q", res.Header.Get("Location"), pay)
	}
	// No till stands on these pages, so there are three days to come by.
	v.reads(pay, "$210.00", "Fri Oct 23, 20:09")
	v.reads("/classes/B5", "being held, until Fri Oct 23, 20:09")

	b, err := h.MyBooking(t.Context(), strings.TrimSuffix(strings.TrimPrefix(pay, "/b/"), "/pay"))
	if err != nil {
		t.Fatal(err)
	}
	paid := h.signedIn(t, "tobias").ask(http.MethodPost, fmt.Sprintf("/api/v1/bookings/%d/payments", b.Number), `{"amount":"$210.00","method":"card"}`, http.StatusOK)
	if dig(paid, "state") != "firm" || dig(paid, "paid") != "$210.00" || dig(paid, "ready_about") != "2026-11-21" {
		t.Errorf("paid: %v", paid)
	}
	v.reads(strings.TrimSuffix(pay, "/pay"), "$210.00", "Sat Nov 7")
	v.reads("/classes/B5", "waiting list")
}

// Fifty people press for the last two seats in the same second: two get a hold, the other
// forty-eight read until when the seats are being held, and nobody meets an error page.
func TestStoryFiftyForTwoSeats(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-10-20 20:09", asDemo(&frontend.Demo{})) // with a till: held for minutes
		h.Clock.Set(h.Now() + 120)                                              // 20:11
		until := (h.Now() + unit.Instant(h.Rules.HoldOnline*60)).Clock(h.Loc)
		var wg sync.WaitGroup
		var held, told atomic.Int64
		for i := range 50 {
			v := h.visitor(t)
			_, page := v.get("/classes/B5/book?seats=1")
			form := url.Values{}
			for _, m := range formField.FindAllStringSubmatch(page, -1) {
				form.Set(m[1], m[2])
			}
			form.Set("seats", "1")
			form.Set("name", fmt.Sprintf("Buyer %d", i))
			form.Set("email", fmt.Sprintf("buyer%d@post.example.test", i))
			form.Set("p1_needs", "not told")
			wg.Go(func() {
				res, body := v.post("/classes/B5/book", form)
				switch {
				case res.StatusCode == http.StatusSeeOther:
					held.Add(1)
				case res.StatusCode == http.StatusConflict && strings.Contains(said(body), "being held, until "+until):
					told.Add(1)
				default:
					t.Errorf("%d: %s", res.StatusCode, said(body))
				}
			})
		}
		wg.Wait()
		if held.Load() != 2 || told.Load() != 48 {
			t.Errorf("%d hold a seat and %d were told until when; want 2 and 48", held.Load(), told.Load())
		}
	})
}
