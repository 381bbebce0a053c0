package main

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"flitchbook/frontend"
)

const (
	ullaMail   = "ulla@post.example.test"
	fatherMail = "magnus@post.example.test"
)

// openClass sketches and publishes a class as the owner.
func (v *visitor) openClass(code, kind, starts string) {
	v.t.Helper()
	v.ask(http.MethodPost, "/api/v1/classes", `{"code":"`+code+`","kind":"`+kind+`","starts_at":"`+starts+`"}`, http.StatusOK)
	v.ask(http.MethodPost, "/api/v1/classes/"+code+"/publish", "{}", http.StatusOK)
}

// The present (S-13, house outcome W1): on Mon Oct 12 Ulla buys a seat of a bacon class for
// $95.00, to reach her father on Wed Nov 25. The price rises to $105.00 on Oct 20. A pig
// clinic is $165.00, so $70.00 more.
func TestStoryPresent(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-10-12 09:00", asDemo(&frontend.Demo{}))
		p := h.post(t)
		odile, ulla, father := h.signedIn(t, "odile"), h.visitor(t), h.visitor(t)
		odile.openClass("D7", "pig", "2026-12-17T18:00:00-06:00")
		odile.openClass("B9", "bacon", "2026-12-19T14:00:00-06:00")
		owedBefore := owedOnVouchers(odile)

		_, page := ulla.get("/vouchers")
		res, page := ulla.post("/vouchers", url.Values{"once": {hidden(t, page, "once")}, "kind": {"seat"}, "class_kind": {"bacon"}, "name": {"Ulla F."}, "email": {ullaMail},
			"receiver": {"Magnus F."}, "receiver_email": {fatherMail}, "send_on": {"2026-11-25"}})
		card := res.Header.Get("Location")
		if res.StatusCode != http.StatusSeeOther || !strings.HasPrefix(card, "/vouchers/") {
			t.Fatalf("buying: %d %s", res.StatusCode, said(page))
		}
		code := strings.TrimPrefix(card, "/vouchers/")
		voucher := func() map[string]any {
			t.Helper()
			return odile.ask(http.MethodPost, "/api/v1/vouchers/find", `{"code":"`+code+`"}`, http.StatusOK)
		}

		// S-13.1: the receipt now, to her; to him nothing before Wed Nov 25, 10:00.
		p.now()
		receipt := p.only(ullaMail, "Your voucher")
		receipt.says(t, "You paid: $95.00", code, "Good until: Sun Oct 12, 2031", "We send it on Wed Nov 25, 10:00 to Magnus F., without the price")
		if receipt.at != h.Now() {
			t.Errorf("the receipt left %s", receipt.at.Show(h.Loc))
		}
		// S-13.6, before: she sees "not yet". The print has no price at any time.
		if text := ulla.reads(card, "Not used yet", "One seat", "For Magnus F.", "From Ulla F.", "It reaches Magnus F. by mail on Wed Nov 25, 2026", code); strings.Contains(text, "$") || strings.Contains(text, "It has been used") {
			t.Errorf("the card says: %s", text)
		}
		// S-13.4: until used it is owed.
		if got := owedOnVouchers(odile); got-owedBefore != 95_00 {
			t.Errorf("owed on vouchers: %d cents, before %d; want 9500 more", got, owedBefore)
		}
		odile.reads("/owner/ledger", "owed on vouchers")
		p.pass("2026-11-25 09:59")
		if had := p.to(fatherMail); len(had) != 0 {
			t.Errorf("before its day: %v", subjects(had))
		}
		p.pass("2026-11-25 10:00")
		gift := p.only(fatherMail, "A present for you from Ulla F.")
		gift.says(t, code, "Ulla F. gives you a place with us: Bacon-curing class", "Choose a date, book, and enter the code")
		if gift.at.Show(h.Loc) != "Wed Nov 25, 10:00" || strings.Contains(gift.subject+gift.text, "$") || strings.Contains(gift.text, "95") {
			t.Errorf("at %s: %s", gift.at.Show(h.Loc), gift.text)
		}
		if had := p.to(fatherMail); len(had) != 1 {
			t.Errorf("he had %v", subjects(had))
		}

		// S-13.3: on a pig clinic it is worth what was paid for it.
		father.reads("/classes/D7", "$165.00")
		clinic := father.holdSeats("D7", "1", "Magnus F.", fatherMail, url.Values{"p1_needs": {"none"}})
		if took := father.payFor(clinic, code); took != "$70.00" {
			t.Errorf("the clinic took %s besides the voucher, want $70.00", took)
		}
		if v := voucher(); dig(v, "used") != "true" || dig(v, "left") != "$0.00" {
			t.Errorf("used for the clinic: %v", v)
		}
		ulla.reads(card, "It has been used")
		p.pass("2026-11-27 12:00") // 20 days before the clinic
		father.reads(clinic+"/leave", "20 days from today", "goes: $165.00 back", "Money paid by voucher or credit comes back as that voucher or credit")
		father.letGo(clinic, map[string]string{"Magnus F.": "money"}, nil)
		p.now()
		p.only(fatherMail, "You have given up your place").says(t, "Back to you: $70.00", "$95.00 is on the voucher or credit again that it was paid with.")
		if v := voucher(); dig(v, "used") != "false" || dig(v, "left") != "$95.00" || dig(v, "expires_on") != "2031-10-12" {
			t.Errorf("let go: %v", v)
		}
		ulla.reads(card, "Not used yet", "Sun Oct 12, 2031")

		// S-13.2: a seat of its kind costs nothing at any price.
		father.reads("/classes/B9", "$105.00")
		seat := father.holdSeats("B9", "1", "Magnus F.", fatherMail, url.Values{"p1_needs": {"none"}})
		_, page = father.get(seat + "/pay")
		_, page = father.post(seat+"/till", url.Values{"once": {hidden(t, page, "once")}, "codes": {code}, "do": {"codes"}})
		if text := said(page); !strings.Contains(text, "To pay $0.00") {
			t.Errorf("with the code the page asks: %s", text)
		}
		if took := father.payFor(seat, code); took != "$0.00" {
			t.Errorf("B9 took %s besides the voucher", took)
		}
		father.reads(seat, "You are booked")

		// S-13.4: the class counts what was paid for it; nothing is owed any more.
		odile.reads("/owner/classes/B9/money", "covers a seat of $105.00, brought $95.00", "Income $95.00")
		if got := odile.ask(http.MethodGet, "/api/v1/classes/B9/money", "", http.StatusOK); dig(got, "income") != "$95.00" {
			t.Errorf("B9 by JSON: %v", got)
		}
		if got := owedOnVouchers(odile); got != owedBefore {
			t.Errorf("used, %d cents are owed on vouchers, want %d", got, owedBefore)
		}

		// S-13.5: what comes before the class goes to him, without money; she hears nothing.
		p.pass("2026-12-19 13:00")
		soon := 0
		for _, l := range p.to(fatherMail) {
			if strings.HasPrefix(l.subject, "See you") {
				soon++
				if strings.Contains(l.text, "$") {
					t.Errorf("money in a reminder: %s", l.text)
				}
			}
		}
		if soon != 2 {
			t.Errorf("%d reminders: %v", soon, subjects(p.to(fatherMail)))
		}
		if had := p.to(ullaMail); len(had) != 1 {
			t.Errorf("Ulla had %v", subjects(had))
		}
		for _, l := range p.sent {
			if strings.Contains(l.text, code) && l.to != ullaMail && l.to != fatherMail {
				t.Errorf("the code went to %s", l.to)
			}
		}
		// S-13.6: she sees that it was used, not when or for what.
		ulla.reads(card, "It has been used", "It has gone to Magnus F. by mail")
		text := said(cut(second(ulla.get(card)), `<main id="main"`, "</main>"))
		for _, never := range []string{"B9", "D7", "Dec", "$", "Not used yet"} {
			if strings.Contains(text, never) {
				t.Errorf("the giver's page says %q: %s", never, text)
			}
		}
	})
}

// owedOnVouchers is what the shop's books owe on vouchers, in cents.
func owedOnVouchers(odile *visitor) int {
	odile.t.Helper()
	cents := 0
	for _, g := range list(odile.ask(http.MethodGet, "/api/v1/ledger", "", http.StatusOK)["groups"]) {
		for _, a := range list(g.(map[string]any)["accounts"]) {
			if dig(a, "account") == "owed on vouchers" {
				for _, r := range dig(a, "amount") {
					if r >= '0' && r <= '9' {
						cents = cents*10 + int(r-'0')
					}
				}
			}
		}
	}
	return cents
}
