package main

import (
	"context"
	"html"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"flitchbook/api/shop"
	"flitchbook/frontend"
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
		_, body := guest.get("/private")
		ask := url.Values{"offer": {cut(body, `name="offer" value="`, `"`)}, "day": {"2026-11-06"}, "heads": {"20"}, "name": {"Wren P."}, "email": {"wren@post.example.test"}, "once": {"w1"}}
		res, body := guest.post("/private", ask)
		if res.StatusCode != 422 || !strings.Contains(said(body), "Fri Nov 6 is not free") || !strings.Contains(body, `value="Wren P."`) {
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

// Two minutes on a phone (house outcome M1), Tue Oct 20 20:10: two seats left in B5 at
// $105.00, ready about Sat Nov 21; two are booked and $210.00 paid, the confirmation leaves
// within a minute with a calendar entry, and B5 is full and offers the waiting list. For Thu
// Nov 26 the season page names Sat Nov 7 as the last class (J1).
func TestStoryTwoMinutesOnAPhone(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-10-20 20:09", asDemo(&frontend.Demo{}))
		p := h.post(t)
		h.goTo("2026-10-20 20:10")
		v := h.visitor(t)
		v.reads("/", "Bacon for Thu Nov 26", "Last class whose bacon is ready before then: Sat Nov 7", "2 seats left")
		v.reads("/classes/B5", "2 seats left", "$105.00", "about Sat Nov 21", "13 to 7 days before", "From 10 on the day", "watching from 6", "3 Corbel Street")
		if c := v.ask(http.MethodGet, "/api/v1/classes/B5", "", http.StatusOK); dig(c, "left") != "2" || dig(c, "price") != "$105.00" || dig(c, "ready_about") != "2026-11-21" {
			t.Errorf("B5 by JSON: %v", c)
		}
		at := v.holdSeats("B5", "2", "Nerys D.", "nerys@post.example.test", url.Values{"p1_pick1": {"CS"}, "p2_pick1": {"PL"}})
		v.reads(at, "Your seats are held", "Pay $210.00")
		v.reads("/classes/B5", "being held, until 20:30")
		if took := v.payFor(at, ""); took != "$210.00" {
			t.Errorf("the till took %s", took)
		}
		p.pass("2026-10-20 20:11")
		mail := p.only("nerys@post.example.test", "You are booked")
		mail.says(t, "2 seats", "Price: $210.00", "Paid: $210.00", "ready about Sat Nov 21", h.Config.BaseURL+at)
		if len(mail.events) != 1 || mail.method != "REQUEST" || mail.events[0].Start != "2026-11-07T20:00:00Z" || mail.events[0].Status != "CONFIRMED" {
			t.Errorf("the calendar entry: %s %+v", mail.method, mail.events)
		}
		v.reads(at, "You are booked", "$210.00", "about Sat Nov 21", "Follow your bacon")
		v.reads("/classes/B5", "full: waiting list", "Join the waiting list")
		if own := v.own(at); dig(own, "state") != "firm" || dig(own, "owes") != "$0.00" {
			t.Errorf("by JSON: %v", own)
		}
	})
}

// One severe sesame at a shared table, by the pages: the jar is away for B2 alone, Oona is
// written to once without a word why, and nothing a guest can see says who or why.
func TestStorySevereSesame(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-10-02 08:00")
		oona, err := h.BookingByNumber(t.Context(), 8)
		if err != nil {
			t.Fatal(err)
		}
		v, nadia := h.visitor(t), h.signedIn(t, "tobias")
		v.reads("/b/"+oona.Secret, "spice: sesame")
		form := url.Values{"seats": {"1"}, "rows": {"1"}, "had_second": {"0"}, "do": {"book"}, "once": {"c9"}, "name": {"Kasimir N."}, "me": {"yes"}, "email": {"kasimir@post.example.test"},
			"p1_needs": {"list"}, "p1_need": {"sesame"}, "p1_severe": {"sesame"}, "p1_pick1": {"PB"}}
		res, body := v.post("/classes/B2/book", form)
		if res.StatusCode != http.StatusSeeOther {
			t.Fatalf("book: %d %s", res.StatusCode, said(body))
		}
		at := strings.Split(res.Header.Get("Location"), "/pay")[0]
		number := cut(second(v.get(at)), "<dt>Booking</dt><dd>K", "<")
		if res, body := nadia.post("/staff/bookings/"+number+"/pay", url.Values{"cents": {"95.00"}, "method": {"cash"}, "once": {"c1"}}); res.StatusCode != http.StatusSeeOther {
			t.Fatalf("pay: %d %s", res.StatusCode, said(body))
		}
		v.reads("/classes/B2", "not on the table that day")
		if got := v.reads("/classes/B3"); strings.Contains(got, "not on the table that day") {
			t.Error("the jar is away from another class too")
		}
		nadia.reads("/staff/classes/B2/sheet", "SC")
		v.reads("/b/"+oona.Secret, "please choose again", "juniper & thyme")
		guests := 0
		for _, path := range []string{"/", "/classes/B2", "/classes/B2/book?seats=1", "/b/" + oona.Secret, "/g/" + oona.People[0].Secret, "/g/" + oona.People[1].Secret, "/b/" + oona.Secret + "/data"} {
			got := v.reads(path)
			guests++
			for _, never := range []string{"allerg", "Kasimir", "severe sesame"} {
				if strings.Contains(strings.ToLower(got), strings.ToLower(never)) {
					t.Errorf("%s says %q", path, never)
				}
			}
		}
		told := 0
		h.goTo("2026-10-03 12:00")
		if _, err := h.Deliver(t.Context(), func(_ context.Context, n shop.Notice, _ shop.Facts) error {
			if n.Kind == shop.NoticePickReopened {
				told++
				if text := strings.ToLower(n.Facts); strings.Contains(text, "allerg") || strings.Contains(text, "kasimir") {
					t.Errorf("the message says why: %s", n.Facts)
				}
			}
			return nil
		}); err != nil {
			t.Fatal(err)
		}
		if told != 1 {
			t.Errorf("%d messages, want one to Oona", told)
		}
	})
}

// Last time again: Imke's two slabs with their spice at 2.2 % salt and her note, carried
// into a new booking whose names and food are asked anew; nobody without her address reads
// or writes it.
func TestStorySameAsLastTime(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-11-02 12:00")
		b, err := h.BookingByNumber(t.Context(), 1)
		if err != nil {
			t.Fatal(err)
		}
		v, at := h.visitor(t), "/s/"+b.SlabSecret
		tag := cut(second(v.get(at)), `name="tag" value="`, `"`)
		if res, body := v.post(at+"/note", url.Values{"tag": {tag}, "note": {"more pepper"}}); res.StatusCode != http.StatusSeeOther {
			t.Fatalf("note: %d %s", res.StatusCode, said(body))
		}
		v.reads(at, "Your note for next time: more pepper", "Book the same again")
		page := v.reads(at+"/again", "pepper & bay, 2.2 % salt", "Your note: “more pepper”", "juniper & thyme")
		if strings.Contains(page, "Imke") {
			t.Error("whoever fetches reads a name there")
		}
		for _, wrong := range []string{"B2-01", "B9-99", ""} {
			if res, _ := v.post(at+"/note", url.Values{"tag": {wrong}, "note": {"mine"}}); res.StatusCode != http.StatusNotFound {
				t.Errorf("a note on %q: %d", wrong, res.StatusCode)
			}
		}
		if res, body := v.post(at+"/note", url.Values{"tag": {tag}, "note": {strings.Repeat("x", 201)}}); res.StatusCode != 422 || !strings.Contains(body, strings.Repeat("x", 201)) {
			t.Errorf("a long note: %d; what was typed is gone", res.StatusCode)
		}
		_, body := v.get(at + "/again")
		action := cut(body, `<form method="post" action="`, `"`)
		form := url.Values{}
		one := cut(cut(body, action, "</form>"), ">", "\x00")
		for _, field := range strings.Split(one, `<input type="hidden" name="`)[1:] {
			form.Set(cut("\x01"+field, "\x01", `"`), html.UnescapeString(cut(field, `value="`, `"`)))
		}
		res, body := v.post(action, form)
		if res.StatusCode != 200 || !strings.Contains(body, `value="PB" selected`) || !strings.Contains(body, `value="JT" selected`) || !strings.Contains(said(body), "more pepper") && !strings.Contains(body, "more pepper") {
			t.Errorf("the new booking is not like the last: %d %v %s", res.StatusCode, form, said(body))
		}
	})
}
