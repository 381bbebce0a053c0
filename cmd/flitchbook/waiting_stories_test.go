package main

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"flitchbook/frontend"
)

// holdSeats books by the pages, as somebody who comes along themselves, and gives the
// path of the booking's page. Answers besides go in as the form names them.
func (v *visitor) holdSeats(class, seats, name, mail string, besides url.Values) string {
	v.t.Helper()
	res, page := v.get("/classes/" + class + "/book?seats=" + seats)
	if res.StatusCode != http.StatusOK {
		v.t.Fatalf("the form of %s: %d", class, res.StatusCode)
	}
	form := url.Values{"seats": {seats}, "name": {name}, "email": {mail}, "me": {"yes"}, "do": {"book"}}
	for _, m := range formField.FindAllStringSubmatch(page, -1) {
		form.Set(m[1], m[2])
	}
	for name, value := range besides {
		form[name] = value
	}
	res, page = v.post("/classes/"+class+"/book", form)
	at, found := strings.CutSuffix(res.Header.Get("Location"), "/pay")
	if res.StatusCode != http.StatusSeeOther || !found {
		v.t.Fatalf("%s in %s: %d %s", name, class, res.StatusCode, said(page))
	}
	return at
}

// payFor pays what a booking's page asks for, at the till of the pages; codes may cover it
// altogether. It returns what the till took.
func (v *visitor) payFor(at, codes string) string {
	v.t.Helper()
	_, page := v.get(at + "/pay")
	res, page := v.post(at+"/till", url.Values{"once": {hidden(v.t, page, "once")}, "codes": {codes}})
	if res.StatusCode == http.StatusSeeOther {
		return "$0.00"
	}
	if res.StatusCode != http.StatusOK || !strings.Contains(page, "<h1>Demo till</h1>") {
		v.t.Fatalf("the till of %s: %d %s", at, res.StatusCode, said(page))
	}
	form := url.Values{"once": {hidden(v.t, page, "once")}, "cents": {hidden(v.t, page, "cents")}, "codes": {codes}}
	if res, page := v.post(at+"/pay", form); res.StatusCode != http.StatusSeeOther {
		v.t.Fatalf("paying %s: %d %s", at, res.StatusCode, said(page))
	}
	return cut(page, `<p class="total">`, "</p>")
}

// book books and pays.
func (v *visitor) book(class, seats, name, mail string, besides url.Values) (at, took string) {
	v.t.Helper()
	at = v.holdSeats(class, seats, name, mail, besides)
	return at, v.payFor(at, "")
}

// own reads a booking as its payer's program does.
func (v *visitor) own(at string) map[string]any {
	v.t.Helper()
	return v.ask(http.MethodGet, "/api/v1/my-booking/"+strings.TrimPrefix(at, "/b/"), "", http.StatusOK)
}

// letGo lets people of a booking go by its page: name to "money", "credit" or "sold". The
// sum is the one that stands beside the name.
func (v *visitor) letGo(at string, going map[string]string, besides url.Values) {
	v.t.Helper()
	_, page := v.get(at + "/leave")
	form := url.Values{"once": {hidden(v.t, page, "once")}}
	for _, group := range strings.Split(page, "<fieldset")[1:] {
		group, _, _ = strings.Cut(group, "</fieldset>")
		field := cut(group, `name="`, `"`)
		form.Set(field, "")
		who := strings.TrimSpace(said(cut(cut(group, "<legend", "</legend>"), ">", "\x00")))
		if as, ok := going[who]; ok {
			sum := cut(group, `value="`+as+" ", `"`)
			if sum == "" {
				v.t.Fatalf("%s cannot go for %s: %s", who, as, said(group))
			}
			form.Set(field, as+" "+sum)
			delete(going, who)
		}
	}
	if len(going) > 0 {
		v.t.Fatalf("not on the page: %v", going)
	}
	for name, value := range besides {
		form[name] = value
	}
	if res, page := v.post(at+"/leave", form); res.StatusCode != http.StatusSeeOther {
		v.t.Fatalf("letting go: %d %s", res.StatusCode, said(page))
	}
}

func (h *house) bookingPage(t *testing.T, number int) string {
	t.Helper()
	b, err := h.BookingByNumber(t.Context(), number)
	if err != nil {
		t.Fatal(err)
	}
	return "/b/" + b.Secret
}

const (
	margueriteMail = "marguerite@post.example.test"
	teodorMail     = "teodor@post.example.test"
	yusraMail      = "yusra@post.example.test"
)

// A seat comes free (S-03): Wed Oct 14 09:30, B2 is full, a pair waits and then a single.
// Marguerite lets her seat go three days before.
func TestStorySeatComesFree(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-10-14 09:29", asDemo(&frontend.Demo{}))
		p := h.post(t)
		marguerite, odile, bo := h.visitor(t), h.signedIn(t, "odile"), h.visitor(t)
		k10, k11, k12 := h.bookingPage(t, 10), h.bookingPage(t, 11), h.bookingPage(t, 12)
		// S-03.6: 10 seats and the demo slab; a seat offered or held is sold meat all the same.
		slabs := func(want string) {
			t.Helper()
			if got := dig(odile.ask(http.MethodGet, "/api/v1/orders/3/recount", "", http.StatusOK), "wanted"); got != want {
				t.Errorf("%s: %s slabs wanted for B2, want %s", h.Now().Show(h.Loc), got, want)
			}
		}
		first := func() {
			t.Helper()
			if b := marguerite.own(k11); dig(b, "state") != "waiting" || dig(b, "ahead") != "0" || len(p.to(teodorMail)) != 0 {
				t.Errorf("%s: K11 is %s with %s before it and had %v", h.Now().Show(h.Loc), dig(b, "state"), dig(b, "ahead"), subjects(p.to(teodorMail)))
			}
		}
		h.goTo("2026-10-14 09:30")
		slabs("11")
		first()

		// S-03.1: what she reads before she confirms.
		marguerite.reads(k10+"/leave", "3 days from today", "goes: $0.00 back; $95.00 credit if the seat is sold again")
		secret := strings.TrimPrefix(k10, "/b/")
		if got := marguerite.ask(http.MethodGet, "/api/v1/my-booking/"+secret+"/leave", "", http.StatusOK); dig(got, "words") != "$0.00 back; $95.00 credit if the seat is sold again" {
			t.Errorf("by JSON: %v", got)
		}
		marguerite.letGo(k10, map[string]string{"Marguerite": "sold"}, nil)
		p.now()
		p.only(margueriteMail, "You have given up your place").says(t, "$95.00 credit if the seat is sold again")

		// S-03.2: K12 is offered the seat at once, until Thu 09:30; it is nobody else's meanwhile.
		offer := p.only(yusraMail, "A place has come free")
		offer.says(t, "until Thu Oct 15, 09:30", "To pay: $95.00")
		if got := offer.at.Show(h.Loc); got != "Wed Oct 14, 09:30" {
			t.Errorf("offered at %s", got)
		}
		if b := bo.own(k12); dig(b, "state") != "offered" || dig(b, "offer_until") != "2026-10-15T14:30:00Z" {
			t.Errorf("K12 is %s until %s", dig(b, "state"), dig(b, "offer_until"))
		}
		bo.reads(k12, "There are seats for you", "kept for you until Thu Oct 15, 09:30", "$95.00")
		bo.reads("/classes/B2", "being held, until Thu Oct 15, 09:30")
		bo.ask(http.MethodPost, "/api/v1/classes/B2/bookings", `{"name":"Bo R.","email":"bo@post.example.test","people":[{"payer":true,"seat":"slab"}]}`, http.StatusConflict)
		first()
		slabs("11")

		// S-03.3: no answer. One line to K12, K11 does not fit, open to all at the old price.
		h.later(t, "2026-10-15 09:29")
		if b := bo.own(k12); dig(b, "state") != "offered" {
			t.Errorf("a minute before: %v", b)
		}
		slabs("11")
		h.later(t, "2026-10-15 09:30")
		if got := p.only(yusraMail, "The offer has passed on").at.Show(h.Loc); got != "Thu Oct 15, 09:30" {
			t.Errorf("it lapsed at %s", got)
		}
		bo.reads(k12, "The offer ran out")
		bo.reads("/classes/B2", "1 seat left", "$95.00")
		if c := bo.ask(http.MethodGet, "/api/v1/classes/B2", "", http.StatusOK); dig(c, "left") != "1" || dig(c, "price") != "$95.00" {
			t.Errorf("on sale: %s left at %s", dig(c, "left"), dig(c, "price"))
		}
		first()

		// S-03.4: Bo buys it Friday at eleven; Marguerite has her credit and one message.
		h.later(t, "2026-10-16 10:59")
		before := len(p.to(margueriteMail))
		h.goTo("2026-10-16 11:00")
		at := bo.holdSeats("B2", "1", "Bo R.", "bo@post.example.test", url.Values{"p1_needs": {"none"}, "p1_pick1": {"GP"}})
		slabs("11")
		if took := bo.payFor(at, ""); took != "$95.00" {
			t.Errorf("Bo paid %s", took)
		}
		p.now()
		slabs("11")
		if n := len(p.to(margueriteMail)) - before; n != 1 {
			t.Errorf("%d messages to Marguerite: %v", n, subjects(p.to(margueriteMail)))
		}
		credit := p.only(margueriteMail, "A credit of $95.00")
		credit.says(t, "good until Mon Oct 16, 2028", "your seat was sold again")
		first()
		if n := len(p.to(yusraMail)); n != 2 {
			t.Errorf("K12 had %v", subjects(p.to(yusraMail)))
		}
		// What she was told is money: the code pays a seat.
		code := cut(spaces.ReplaceAllString(credit.text, " "), "Your code: ", " ")
		seat := marguerite.holdSeats("B4", "1", "Marguerite B.", margueriteMail, url.Values{"p1_needs": {"none"}})
		if took := marguerite.payFor(seat, code); took != "$0.00" {
			t.Errorf("with her credit she paid %s", took)
		}
		marguerite.reads(seat, "You are booked", "$95.00")
	})
}

// S-03.5: the seat comes free 47.5 hours before the class, Thu Oct 15 14:30, so the offer
// stands four hours, to 18:30.
func TestStorySeatComesFreeLate(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-10-14 09:29", asDemo(&frontend.Demo{}))
		p := h.post(t)
		p.pass("2026-10-15 14:30")
		v, k12 := h.visitor(t), h.bookingPage(t, 12)
		v.letGo(h.bookingPage(t, 10), map[string]string{"Marguerite": "sold"}, nil)
		p.now()
		p.only(yusraMail, "A place has come free").says(t, "until Thu Oct 15, 18:30")
		v.reads(k12, "kept for you until 18:30")
		p.pass("2026-10-15 18:29")
		if b := v.own(k12); dig(b, "state") != "offered" || dig(b, "offer_until") != "2026-10-15T23:30:00Z" {
			t.Errorf("a minute before: %s until %s", dig(b, "state"), dig(b, "offer_until"))
		}
		p.pass("2026-10-15 18:30")
		if b := v.own(k12); dig(b, "state") != "let go" {
			t.Errorf("after four hours: %v", b)
		}
		p.only(yusraMail, "The offer has passed on")
		if len(p.to(teodorMail)) != 0 {
			t.Errorf("K11 had %v", subjects(p.to(teodorMail)))
		}
		v.reads("/classes/B2", "1 seat left")
	})
}
