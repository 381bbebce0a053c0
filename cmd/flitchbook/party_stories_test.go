package main

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"flitchbook/frontend"
)

const cordeliaMail = "cordelia@post.example.test"

// person is one of a booking's people as its payer's program lists them.
func person(t *testing.T, own map[string]any, name string) map[string]any {
	t.Helper()
	return find(t, own["people"], "name", name)
}

// guestPath is the path of a person's own page.
func guestPath(p map[string]any) string {
	link := dig(p, "link")
	return link[max(strings.Index(link, "/g/"), 0):]
}

// Two of six drop out (S-15): Tue Oct 20, D3 is nine days ahead, six seats of $165.00 are
// paid. A seat gives half in money, $82.50, or all as credit, $165.00. The loin for ten is
// 10 × 6 oz ÷ 0.737 = 5.09 lb, for eight 4.07 lb.
func TestStoryTwoOfSixDropOut(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-10-20 12:00", asDemo(&frontend.Demo{}))
		p := h.post(t)
		odile, jun, cordelia, friend := h.signedIn(t, "odile"), h.signedIn(t, "jun"), h.visitor(t), h.visitor(t)
		k44 := h.bookingPage(t, 44)
		own := cordelia.own(k44)
		if dig(own, "paid") != "$990.00" || dig(own, "total") != "$990.00" {
			t.Fatalf("K44 paid %s of %s", dig(own, "paid"), dig(own, "total"))
		}
		nell, amos := guestPath(person(t, own, "Nell")), guestPath(person(t, own, "Amos"))
		// Amos has told the kitchen something, so that it can be seen to go.
		if res, page := friend.post(amos, url.Values{"name": {"Amos"}, "needs": {"list"}, "need": {"celery"}}); res.StatusCode != http.StatusSeeOther {
			t.Fatalf("Amos's answer: %d %s", res.StatusCode, said(page))
		}
		sheet := func() map[string]any {
			t.Helper()
			return jun.ask(http.MethodGet, "/api/v1/dinners/D3/table", "", http.StatusOK)
		}
		if s := sheet(); dig(s, "sure", "heads") != "10" || dig(s, "buy", "raw") != "5.09 lb" || find(t, s["people"], "name", "Amos") == nil {
			t.Errorf("before: %v", s)
		}
		jun.reads("/staff/kitchen/D3", "5.09 lb", "celery", "Amos", "Nell")
		class := func() map[string]any {
			t.Helper()
			return friend.ask(http.MethodGet, "/api/v1/classes/D3", "", http.StatusOK)
		}
		if c := class(); dig(c, "left") != "2" {
			t.Errorf("before: %s left", dig(c, "left"))
		}
		halves := func() string { // of the animals for D3 and B4
			t.Helper()
			kills := odile.ask(http.MethodGet, "/api/v1/meat", "", http.StatusOK)["kills"]
			for _, k := range list(kills) {
				if strings.Contains(dig(k, "classes"), "D3") {
					return dig(k, "sold", "halves")
				}
			}
			t.Fatal("D3 is on no kill day")
			return ""
		}
		if halves() != "1" {
			t.Errorf("before: %s half pigs", halves())
		}

		// S-15.1: shown before anything is pressed.
		cordelia.reads(k44+"/leave", "9 days from today", "goes: $82.50 back", "goes: $165.00 credit")
		quote := cordelia.ask(http.MethodGet, "/api/v1/my-booking/"+strings.TrimPrefix(k44, "/b/")+"/leave", "", http.StatusOK)
		if q := find(t, quote["seats"], "name", "Nell"); dig(q, "money") != "$82.50" || dig(q, "credit") != "$165.00" {
			t.Errorf("by JSON: %v", q)
		}
		cordelia.letGo(k44, map[string]string{"Nell": "money", "Amos": "credit"}, nil)
		p.now()

		// S-15.2: back to her card, and a credit of hers. Money went first, and nothing else
		// had been paid with (R8).
		p.only(cordeliaMail, "You have given up your place").says(t, "Back to you: $82.50", "As credit: $165.00")
		p.only(cordeliaMail, "A credit of $165.00").says(t, "good until Fri Oct 20, 2028")
		odile.reads("/staff/bookings/44", "-$82.50 till", "-$165.00 to credit", "Seats $660.00", "nothing owed") // back the way it was paid
		books := ""
		for _, e := range list(odile.ask(http.MethodGet, "/api/v1/bookings/44/ledger", "", http.StatusOK)["entries"]) {
			if dig(e, "day") == "2026-10-20" {
				for _, l := range list(e.(map[string]any)["lines"]) {
					books += dig(l, "account") + " " + dig(l, "amount") + "\n"
				}
			}
		}
		for _, want := range []string{"-$82.50", "owed as credit -$165.00"} {
			if !strings.Contains(books, want) {
				t.Errorf("the books do not say %q:\n%s", want, books)
			}
		}

		// S-15.3
		if c := class(); dig(c, "left") != "4" || dig(c, "price") != "$165.00" || dig(c, "on_sale") != "true" {
			t.Errorf("on sale: %v", c)
		}
		friend.reads("/classes/D3", "4 seats left", "$165.00")
		if halves() != "1" {
			t.Errorf("%s half pigs", halves())
		}
		odile.reads("/staff/classes/D3", "8 of 12 seats taken, 4 left", "going ahead")
		odile.reads("/owner/classes/D3/go", "minimum 8 reached")

		// S-15.4
		s := sheet()
		if dig(s, "sure", "heads") != "8" || dig(s, "buy", "raw") != "4.07 lb" || dig(s, "buy", "guests") != "8" || dig(s, "buy", "loss") != "26.3 %" {
			t.Errorf("after: heads %s, %v", dig(s, "sure", "heads"), s["buy"])
		}
		if dig(s, "freezes_at") != "2026-10-26T05:00:00Z" || len(list(s["changes"])) != 0 {
			t.Errorf("it freezes %s, changed since: %v", dig(s, "freezes_at"), s["changes"])
		}

		// S-15.6
		text := jun.reads("/staff/kitchen/D3", "4.07 lb")
		for _, gone := range []string{"Nell", "Amos", "celery"} {
			if strings.Contains(text, gone) {
				t.Errorf("the table sheet still says %q: %s", gone, text)
			}
		}
		names := ids(cordelia.own(k44)["people"], "name")
		if strings.Join(names, " ") != "Cordelia Piers Sabine Rolf" {
			t.Errorf("the names left: %v", names)
		}
		for _, link := range []string{nell, amos} {
			for _, at := range []string{link, link + "/data", link + "/data.json", "/api/v1/guests/" + strings.TrimPrefix(link, "/g/")} {
				if res, _ := friend.get(at); res.StatusCode != http.StatusNotFound {
					t.Errorf("%s of somebody who left: %d", at, res.StatusCode)
				}
			}
		}
		if res, _ := friend.post(amos, url.Values{"name": {"Amos"}, "needs": {"none"}}); res.StatusCode != http.StatusNotFound {
			t.Errorf("Amos answers again: %d", res.StatusCode)
		}
		friend.reads(guestPath(person(t, cordelia.own(k44), "Rolf")), "Rolf, your place")

		// S-15.5: a third on Oct 24, five days before.
		p.pass("2026-10-24 10:00")
		cordelia.reads(k44+"/leave", "5 days from today", "goes: $0.00 back; $165.00 credit if the seat is sold again")
		before := len(p.to(cordeliaMail))
		cordelia.letGo(k44, map[string]string{"Rolf": "sold"}, nil)
		p.now()
		if n := len(p.to(cordeliaMail)) - before; n != 1 {
			t.Errorf("%d messages: %v", n, subjects(p.to(cordeliaMail)))
		}
		// Four seats of others stood unsold before hers: the fifth sold is hers.
		if at, took := friend.book("D3", "4", "Wren P.", "wren@post.example.test", nil); took != "$660.00" {
			t.Errorf("%s took %s", at, took)
		}
		p.now()
		if n := len(p.to(cordeliaMail)) - before; n != 1 {
			t.Errorf("four of five free seats are sold, and she had %v", subjects(p.to(cordeliaMail)))
		}
		friend.book("D3", "1", "Ivor P.", "ivor@post.example.test", nil)
		p.now()
		var credits []sentLetter
		for _, l := range p.to(cordeliaMail) {
			if l.subject == "A credit of $165.00 for you" {
				credits = append(credits, l)
			}
		}
		if len(credits) != 2 {
			t.Fatalf("sold again, she had %v", subjects(p.to(cordeliaMail)))
		}
		credits[1].says(t, "good until Tue Oct 24, 2028", "your seat was sold again")
	})
}

// S-15.2, the other way: the credit is the friend's whose name and address she types.
func TestStoryCreditInAFriendsName(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-10-20 12:00", asDemo(&frontend.Demo{}))
		p := h.post(t)
		cordelia, amos := h.visitor(t), h.visitor(t)
		cordelia.letGo(h.bookingPage(t, 44), map[string]string{"Amos": "credit"}, url.Values{"credit_name": {"Amos V."}, "credit_email": {"amos@post.example.test"}})
		p.now()
		credit := p.only("amos@post.example.test", "A credit of $165.00")
		credit.says(t, "good until Fri Oct 20, 2028")
		for _, l := range p.to(cordeliaMail) {
			if strings.Contains(l.subject, "credit") {
				t.Errorf("she had it too: %s", l.text)
			}
		}
		seat := amos.holdSeats("D4", "1", "Amos V.", "amos@post.example.test", url.Values{"p1_needs": {"none"}}) // $150.00
		if took := amos.payFor(seat, cut(spaces.ReplaceAllString(credit.text, " "), "Your code: ", " ")); took != "$0.00" {
			t.Errorf("he paid %s", took)
		}
	})
}

// answers fills in a person's own page: name, food and spice.
func (v *visitor) answers(at string, form url.Values) {
	v.t.Helper()
	if res, page := v.post(at, form); res.StatusCode != http.StatusSeeOther {
		v.t.Fatalf("%s: %d %s", at, res.StatusCode, said(page))
	}
}

// Payer, people and slabs are three lists (house outcome M3): Brigid pays for four in B3
// and names three; each has a link and picks; a friend is named to fetch; the fourth is
// named four days before, after the price has risen, and it costs nothing.
func TestStoryPartyOfFour(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-09-28 10:05", asDemo(&frontend.Demo{}))
		p := h.post(t)
		brigid, friend, tobias := h.visitor(t), h.visitor(t), h.signedIn(t, "tobias")
		at, took := brigid.book("B3", "4", "Brigid O.", "brigid@post.example.test", url.Values{"p2_name": {"Colm"}, "p2_email": {"colm@post.example.test"},
			"p3_name": {"Fia"}, "p3_email": {"fia@post.example.test"}})
		if took != "$380.00" {
			t.Errorf("four seats at $95.00 took %s", took)
		}
		p.now()
		p.only("brigid@post.example.test", "You are booked").says(t, "Price: $380.00", "Paid: $380.00")
		people := list(brigid.own(at)["people"])
		links := map[string]bool{}
		for i, name := range []string{"Brigid O.", "Colm", "Fia", ""} {
			if dig(people[i], "name") != name {
				t.Errorf("person %d is %q", i+1, dig(people[i], "name"))
			}
			link := guestPath(people[i].(map[string]any))
			links[link] = true
			if name == "Colm" || name == "Fia" { // by mail too, without a price
				l := p.only(strings.ToLower(name)+"@post.example.test", "Brigid O. has a place for you")
				l.says(t, "Your page: "+h.Config.BaseURL+link)
				if strings.Contains(l.text, "$") {
					t.Errorf("a price for %s: %s", name, l.text)
				}
			}
			friend.answers(link, url.Values{"name": {name}, "needs": {"none"}, "pick1": {[]string{"MH", "SC", "PB", "FO"}[i]}})
			text := friend.reads(link, "You have told us about food")
			for _, other := range []string{"Colm", "Fia", "$"} {
				if other != name && strings.Contains(text, other) {
					t.Errorf("the page of %q shows %q: %s", name, other, text)
				}
			}
		}
		if len(links) != 4 {
			t.Fatalf("%d links", len(links))
		}
		var picks []string
		for _, m := range list(brigid.own(at)["people"]) {
			picks = append(picks, dig(m, "picks", 0, "jar"))
		}
		if strings.Join(picks, " ") != "MH SC PB FO" {
			t.Errorf("they picked %v", picks)
		}
		if res, page := brigid.post(at+"/collector", url.Values{"collector": {"Colm"}, "collector_mail": {"colm@post.example.test"}, "whole": {"whole"}}); res.StatusCode != http.StatusSeeOther {
			t.Fatalf("who fetches: %d %s", res.StatusCode, said(page))
		}
		number := dig(brigid.own(at), "number")
		tobias.reads("/staff/bookings/"+number, "Who fetches the bacon: Colm", "nothing owed")

		p.pass("2026-10-20 12:00")
		before := len(p.sent)
		_, page := brigid.get(at)
		fourth := cut(page[strings.Index(page, "Person 4"):], `action="`+at+`/people/`, `"`)
		if res, page := brigid.post(at+"/people/"+fourth, url.Values{"name": {"Ruari"}}); res.StatusCode != http.StatusSeeOther {
			t.Fatalf("naming the fourth: %d %s", res.StatusCode, said(page))
		}
		own := brigid.own(at)
		last := list(own["people"])[3]
		if dig(last, "name") != "Ruari" || dig(last, "picks", 0, "jar") != "FO" || dig(own, "total") != "$380.00" || dig(own, "paid") != "$380.00" || dig(own, "owes") != "$0.00" {
			t.Errorf("the fourth named: %v", own)
		}
		p.now()
		for _, l := range p.sent[before:] {
			if strings.Contains(l.text, "$") {
				t.Errorf("named, and money is told to %s: %s", l.to, l.text)
			}
		}
		tobias.reads("/staff/classes/B3", "Brigid O.", "Colm", "Fia", "Ruari", "MH", "SC", "PB", "FO")
	})
}

// One person fetches for four (house outcome M3): K16's packets with MH, SC, PB and FO lie
// on the shelf since Sat Nov 7; Colm, whom Brigid names on her page, carries all four away.
func TestStoryOneFetchesForFour(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-11-09 09:39")
		brigid, tobias := h.visitor(t), h.signedIn(t, "tobias")
		k16 := tobias.party("K16")
		tags := ids(k16["ready"], "tag")
		if len(tags) != 4 {
			t.Fatalf("ready for K16: %v", k16)
		}
		if res, page := brigid.post(h.slabPath(t, k16)+"/collector", url.Values{"collector": {"Colm"}}); res.StatusCode != http.StatusSeeOther {
			t.Fatalf("who fetches: %d %s", res.StatusCode, said(page))
		}
		tobias.reads("/staff/shelf?q=brigid", "4 packets", "Colm fetches", "mustard & honey", "sesame & chilli", "pepper & bay", "fennel & orange")
		at := "/staff/shelf/" + dig(k16, "id")
		if res, page := tobias.post(at, url.Values{"named": {"Colm"}, "tags": {strings.Join(tags[:3], "\n")}}); res.StatusCode != http.StatusConflict || !strings.Contains(said(page), "Scan every packet") {
			t.Errorf("three of four scanned: %d %s", res.StatusCode, said(page))
		}
		if res, page := tobias.post(at, url.Values{"named": {"Colm"}, "tags": {strings.Join(tags, "\n")}}); res.StatusCode != http.StatusSeeOther {
			t.Fatalf("hand-over: %d %s", res.StatusCode, said(page))
		}
		for _, tag := range tags {
			if s := tobias.ask(http.MethodGet, "/api/v1/slabs/"+tag, "", http.StatusOK); dig(s, "state") != "collected" {
				t.Errorf("%s is %s", tag, dig(s, "state"))
			}
		}
		brigid.reads(h.slabPath(t, k16), "You have it all")
	})
}

// Friends answer for themselves (house outcome J4): of Leocadia's six in D6 five have, each
// on their own page; she sees that, and nowhere what. The kitchen sees what.
func TestStoryOrganiserSeesWhoNotWhat(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-10-07 09:00")
		leocadia, friend, jun := h.visitor(t), h.visitor(t), h.signedIn(t, "jun")
		k52 := h.bookingPage(t, 52)
		leocadia.reads(k52, "0 of 6 have answered about food", "6 answers about food")
		words := []string{"quandlemoss", "zibblewort", "farrowmint", "plinkroot", "dombleseed"}
		for i, name := range []string{"Xavi", "Pia", "Bruno", "Irma", "Otis"} {
			link := guestPath(person(t, leocadia.own(k52), name))
			friend.answers(link, url.Values{"name": {name}, "needs": {"list"}, "need": {"other"}, "needs_words": {words[i]}})
			friend.reads(link, "You have told us about food")
		}
		if text := leocadia.reads(k52, "5 of 6 have answered about food", "1 answer about food"); strings.Count(text, "food: told") != 5 || strings.Count(text, "food: not told yet") != 1 {
			t.Errorf("her page: %s", text)
		}
		own := leocadia.own(k52)
		told := 0
		for _, m := range list(own["people"]) {
			if dig(m, "told") == "true" {
				told++
			}
		}
		if told != 5 {
			t.Errorf("by JSON %d have answered: %v", told, own)
		}
		looks := []string{"/api/v1/my-booking/" + strings.TrimPrefix(k52, "/b/")}
		for _, at := range []string{"", "/pay", "/leave", "/move", "/data", "/data.json", "/calendar", "/class.ics"} {
			looks = append(looks, k52+at)
		}
		for _, m := range list(own["people"]) { // friends hand their links about
			at := guestPath(m.(map[string]any))
			looks = append(looks, at, "/api/v1/guests/"+strings.TrimPrefix(at, "/g/"))
		}
		for _, at := range looks {
			res, page := leocadia.get(at)
			if res.StatusCode >= 400 {
				t.Errorf("%s: %d", at, res.StatusCode)
			}
			for _, w := range words {
				if strings.Contains(page, w) {
					t.Errorf("%s shows an answer", at)
				}
			}
		}
		jun.reads("/staff/kitchen/D6", words...)
	})
}
