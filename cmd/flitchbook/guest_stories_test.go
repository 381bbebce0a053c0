package main

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"flitchbook/planner/unit"
)

// People, prices and days are the invented shop's; the sums are worked by hand from its
// house rules.

// One room, one calendar: the choir of 24 at $48.00 paid $300.00; 21 come, so $708.00 is
// owed (21 × 48 = 1008). Nobody can have that evening besides, the page of private events
// shows the others, and a request becomes an event in one press or not at all.
func TestStoryPrivateEvening(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-10-20 12:00")
		guest, nadia, odile := h.visitor(t), h.signedIn(t, "tobias"), h.signedIn(t, "odile")
		page := guest.reads("/private", "$48.00 a head, from 15 to 40 people", "$880.00 for 8 people", "$300.00 when we have agreed", "Free evenings")
		for _, taken := range []string{"Thu Nov 5", "Fri Nov 6", "Thu Nov 12", "Thu Nov 26", "Fri Nov 27", "Sun Nov 8", "Mon Nov 9"} {
			if strings.Contains(page, taken) {
				t.Errorf("%s is offered", taken)
			}
		}
		for _, free := range []string{"Tue Nov 3", "Sat Nov 7", "Fri Nov 13"} { // the bacon of the seventh ends at 16:30
			if !strings.Contains(page, free) {
				t.Errorf("%s is not offered", free)
			}
		}
		res, body := guest.get("/private")
		ask := url.Values{"offer": {cut(body, `name="offer" value="`, `"`)}, "day": {"2026-11-06"}, "heads": {"20"}, "name": {"Wren P."}, "email": {"wren@post.example.test"}, "once": {"w1"}}
		if res, body = guest.post("/private", ask); res.StatusCode != 422 || !strings.Contains(said(body), "Fri Nov 6 is not free") || !strings.Contains(body, `value="Wren P."`) {
			t.Fatalf("asked for a taken evening: %d %s", res.StatusCode, said(body))
		}
		ask.Set("day", "2026-11-13")
		ask.Set("heads", "9")
		if res, body = guest.post("/private", ask); res.StatusCode != 422 || !strings.Contains(said(body), "at least 15 people") {
			t.Fatalf("nine at a long table: %d %s", res.StatusCode, said(body))
		}
		ask.Set("heads", "20")
		if res, body = guest.post("/private", ask); res.StatusCode != 200 || !strings.Contains(said(body), "$960.00") || !strings.Contains(said(body), "17 to 20 people") {
			t.Fatalf("asked: %d %s", res.StatusCode, said(body))
		}
		guest.post("/private", ask) // pressed again
		if got := nadia.reads("/staff/private", "Wren P.", "$960.00: $300.00 at once", "$660.00 by Fri Nov 6"); strings.Count(got, "Wren P.") != 1 {
			t.Errorf("pressed twice, asked %d times", strings.Count(got, "Wren P."))
		}
		id := cut(second(odile.get("/staff/private")), `/owner/private/`, `/open`)
		if res, _ := nadia.post("/owner/private/"+id+"/open", url.Values{"day": {"2026-11-13"}, "starts": {"19:00"}}); res.StatusCode != 403 {
			t.Errorf("staff opens an evening: %d", res.StatusCode)
		}
		if res, body := odile.post("/owner/private/"+id+"/open", url.Values{"day": {"2026-11-13"}, "starts": {"19:00"}}); res.StatusCode != 303 {
			t.Fatalf("open: %d %s", res.StatusCode, said(body))
		} else if got := odile.reads(strings.Split(res.Header.Get("Location"), "#")[0], "Wren P.", "P3", "Due now: $300.00 as deposit; $960.00"); got == "" {
			t.Error("no booking")
		}
		if strings.Contains(guest.reads("/private"), "Fri Nov 13") {
			t.Error("the evening is still offered")
		}
		if strings.Contains(guest.reads("/"), "Grazing") {
			t.Error("a private event stands on the season page")
		}
		// Nothing can be put over it, and it over nothing: neither by sketching nor by moving.
		over := func(code, starts string) {
			t.Helper()
			odile.ask("POST", "/api/v1/classes", `{"code":"`+code+`","kind":"grazing","starts_at":"`+starts+`","seats":15}`, 200)
			res, text := odile.json("POST", "/api/v1/classes/"+code+"/publish", "{}", "Idempotency-Key", code)
			if res.StatusCode != 409 || !strings.Contains(text, "The room is taken: P3 Grazing evening, Fri Nov 13, 19:00 to 22:00") {
				t.Errorf("%s over the event: %d %s", code, res.StatusCode, text)
			}
		}
		over("X1", "2026-11-13T20:00:00-06:00")
		res, text := odile.json("POST", "/api/v1/classes/D5/move", `{"starts_at":"2026-11-13T18:30:00-06:00","reason":"a wish"}`, "Idempotency-Key", "mv")
		if res.StatusCode != 409 || !strings.Contains(text, "The room is taken") {
			t.Errorf("moved over the event: %d %s", res.StatusCode, text)
		}

		// The choir's final count.
		choir := h.signedIn(t, "tobias")
		h.goTo("2026-10-30 11:00")
		choir.reads("/staff/find?q=choir", "K54")
		choir.reads("/staff/bookings/54", "Choir of the crossing", "P1")
		res, body = choir.post("/staff/bookings/54/count", url.Values{"heads": {"19"}})
		if res.StatusCode != 422 || !strings.Contains(said(body), "from 21 to 24") {
			t.Errorf("19 of 24: %d %s", res.StatusCode, said(body))
		}
		if res, body = choir.post("/staff/bookings/54/count", url.Values{"heads": {"21"}}); res.StatusCode != 303 {
			t.Fatalf("21 of 24: %d %s", res.StatusCode, said(body))
		}
		choir.reads("/staff/bookings/54", "owes $708.00")
	})
}

func second(_ *http.Response, body string) string { return body }

// cut is what stands in a page between two strings.
func cut(page, from, to string) string {
	_, rest, _ := strings.Cut(page, from)
	text, _, _ := strings.Cut(rest, to)
	return text
}

// goTo moves the shop's clock.
func (h *house) goTo(moment string) {
	at, err := time.ParseInLocation("2006-01-02 15:04", moment, h.Loc)
	if err != nil {
		panic(err)
	}
	h.Clock.Set(unit.InstantOf(at))
}

// "is my bacon ready??" from Raoul's address the evening before the smoke: K02, one slab,
// drying, and the reply says so. The answer leaves once however often it is pressed.
func TestStoryAnswers(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-10-26 17:30")
		v := h.signedIn(t, "tobias")
		res, body := v.post("/staff/answers", url.Values{"sender": {"RAOUL@post.example.test"}, "about": {"ready"}})
		text := said(body)
		if res.StatusCode != 200 {
			t.Fatalf("%d %s", res.StatusCode, text)
		}
		for _, want := range []string{"K02 Raoul D.", "1 slab", "it is drying and is smoked tomorrow, ready about Wed Oct 28", "We will write when it is on the shelf"} {
			if !strings.Contains(text, want) {
				t.Errorf("does not say %q:\n%s", want, text)
			}
		}
		for _, topic := range []string{"change", "holiday", "voucher", "food", "ages", "private", "fetch", "own"} {
			if res, body := v.post("/staff/answers", url.Values{"sender": {"raoul@post.example.test"}, "about": {topic}}); res.StatusCode != 200 || cut(cut(body, "<textarea", "</textarea>"), ">", "\x00") == "" {
				t.Errorf("%s: %d", topic, res.StatusCode)
			}
		}
		// K54's payer may read what letting go gives; a stranger reads no booking.
		if _, body := v.post("/staff/answers", url.Values{"sender": {"nobody@post.example.test"}, "about": {"ready"}}); !strings.Contains(said(body), "cannot find a booking under this address") {
			t.Errorf("a stranger: %s", said(body))
		}
		send := url.Values{"to": {"raoul@post.example.test"}, "name": {"Raoul D."}, "subject": {"Your bacon"}, "body": {"Smoked tomorrow.\r\n\r\nNadia"}, "once": {"a1"}}
		for range 2 {
			if res, body := v.post("/staff/answers/send", send); res.StatusCode != 303 {
				t.Fatalf("send: %d %s", res.StatusCode, said(body))
			}
		}
		odile := h.signedIn(t, "odile")
		if got := strings.Count(odile.reads("/owner/notices?all=1"), "Your bacon"); got > 2 {
			t.Errorf("sent %d times", got)
		}
		send.Set("to", "not an address")
		send.Set("once", "a2")
		if res, body := v.post("/staff/answers/send", send); res.StatusCode != 422 || !strings.Contains(body, "Smoked tomorrow.") {
			t.Errorf("a wrong address: %d; what was typed is gone", res.StatusCode)
		}
	})
}
