package main

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"flitchbook/frontend"
)

// Everyone's food needs reach the kitchen, and "not told" is seen (house outcome M4): D1 has
// 8 people, 1 vegetarian, 1 pregnant, 1 coeliac (wheat), 4 none and 1 not told. On the day
// the last one answers; the sheet, frozen three days before, says so in a box of its own.
func TestStoryEveryNeedAtTheTable(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-10-15 12:00")
		jun, tobias, vanja := h.signedIn(t, "jun"), h.signedIn(t, "tobias"), h.visitor(t)
		table := func(none, list, notTold string) {
			t.Helper()
			s := jun.ask(http.MethodGet, "/api/v1/dinners/D1/table", "", http.StatusOK)
			sure := s["sure"]
			if got := [4]string{dig(sure, "heads"), dig(sure, "none"), dig(sure, "list"), dig(sure, "not_told")}; got != [4]string{"8", none, list, notTold} {
				t.Errorf("heads, none, list, not told: %v, want 8 %s %s %s", got, none, list, notTold)
			}
			needs := map[string]string{}
			for _, n := range s["sure"].(map[string]any)["needs"].([]any) {
				needs[dig(n, "need")] = dig(n, "people")
			}
			if fmt.Sprint(needs) != "map[pregnant:1 vegetarian:1 wheat:1]" {
				t.Errorf("needs: %v", needs)
			}
			if n := len(s["people"].([]any)); n != 8 {
				t.Errorf("%d people at the table", n)
			}
		}
		table("4", "3", "1")
		jun.reads("/staff/kitchen/D1", "Surely coming 4 3 1 8", "ASK 1 Not told is not none", "KEPT OFF THE WHOLE TABLE wheat", "wheat 1 1", "pregnant 1 0", "vegetarian 1 0", "told none 4", "NOT TOLD 1", "Vanja K41 ASK")
		// The coeliac's severe wheat takes the bread off the table, for this dinner alone (R13);
		// vegetarian and pregnant are asked about at every dish.
		jun.reads("/staff/kitchen/D1", "AWAY FROM THIS TABLE bread (wheat, severe)", "AT EVERY DISH pregnant, vegetarian")
		for code, away := range map[string]string{"D1": "[wheat]", "D3": "[]"} {
			bread := find(t, jun.ask(http.MethodGet, "/api/v1/dinners/"+code+"/table", "", http.StatusOK)["dishes"], "name", "bread")
			if dig(bread, "away") != away {
				t.Errorf("bread at %s is away for %s", code, dig(bread, "away"))
			}
		}
		vanja.reads("/classes/D3", "bread (holds wheat)")
		tobias.reads("/staff/classes/D1/sheet", "ASK 1: not told yet")
		tobias.reads("/staff/classes/D1", "ASK: 1 not told", "vegetarian", "pregnant", "WHEAT")

		vanja.answers(guestPath(person(t, vanja.own(h.bookingPage(t, 41)), "Vanja")), url.Values{"name": {"Vanja"}, "needs": {"none"}})
		table("5", "3", "0")
		text := jun.reads("/staff/kitchen/D1", "Surely coming 5 3 0 8", "Changed since Mon Oct 12, 00:00", "K41 Vanja")
		if strings.Contains(text, "ASK") {
			t.Errorf("still asked: %s", text)
		}
		tobias.reads("/staff/classes/D1", "everybody has answered")
	})
}

// A returning guest is known, with permission (house outcome W9, rule on erasing answers):
// Petra let the shop remember "tree nut"; Bo did not let it remember what he told at the
// counter, and 90 days after his slab was fetched, Wed Nov 4 17:10, it is gone.
func TestStoryKnownAgainWithPermission(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-11-19 09:59", asDemo(&frontend.Demo{}))
		p := h.post(t)
		tobias, odile, guest := h.signedIn(t, "tobias"), h.signedIn(t, "odile"), h.visitor(t)
		paths := func(number int, name string) (own, staff, all string) {
			t.Helper()
			b, err := h.BookingByNumber(t.Context(), number)
			if err != nil {
				t.Fatal(err)
			}
			for _, m := range b.People {
				if m.Name == name {
					return "/g/" + m.Secret, fmt.Sprintf("/staff/bookings/%d/people/%d", number, m.GuestID), fmt.Sprintf("/owner/people/%d", m.GuestID)
				}
			}
			t.Fatalf("no %s in K%d", name, number)
			return
		}
		bo, boStaff, boAll := paths(13, "Bo")
		_, petraStaff, petraAll := paths(19, "Petra")
		if res, page := tobias.post(boStaff+"/needs", url.Values{"state": {"list"}, "need": {"celery"}}); res.StatusCode != http.StatusSeeOther {
			t.Fatalf("Bo's answer: %d %s", res.StatusCode, said(page))
		}

		// Both come again and are not asked to say it twice; only Petra need not.
		petraAgain, _ := guest.book("B8", "1", "Petra M.", "petra@post.example.test", nil)
		boAgain, _ := guest.book("B8", "1", "Bo R.", "bo@post.example.test", nil)
		if m := list(guest.own(petraAgain)["people"])[0]; dig(m, "told") != "true" {
			t.Errorf("Petra again: %v", m)
		}
		if m := list(guest.own(boAgain)["people"])[0]; dig(m, "told") != "false" {
			t.Errorf("Bo again: %v", m)
		}
		text := tobias.reads("/staff/classes/B8", "Petra M.", "Bo R.")
		if of := cut(text, "Petra M. ", "Bo R."); !strings.Contains(of, "tree nut") {
			t.Errorf("on B8's list Petra has: %s", of)
		}

		knows := func(want map[string]bool) {
			t.Helper()
			if got := strings.Contains(odile.reads(boAll), "celery"); got != want["Bo"] {
				t.Errorf("%s: Bo's answer is there: %v", h.Now().Show(h.Loc), got)
			}
			if got := strings.Contains(odile.reads(petraAll), "tree nut"); got != want["Petra"] {
				t.Errorf("%s: Petra's answer is there: %v", h.Now().Show(h.Loc), got)
			}
			if text := tobias.reads(boStaff); strings.Contains(text, "ASK: not told") == want["Bo"] {
				t.Errorf("%s: %s", h.Now().Show(h.Loc), text)
			}
			if text := tobias.reads(petraStaff); strings.Contains(text, "ASK: not told") == want["Petra"] {
				t.Errorf("%s: %s", h.Now().Show(h.Loc), text)
			}
		}
		p.pass("2027-02-02 17:09")
		knows(map[string]bool{"Bo": true, "Petra": true})
		p.pass("2027-02-02 17:10")
		knows(map[string]bool{"Petra": true})
		if got := guest.ask(http.MethodGet, "/api/v1/guests/"+strings.TrimPrefix(bo, "/g/"), "", http.StatusOK); dig(got, "told") != "false" {
			t.Errorf("by JSON: %v", got)
		}
		p.pass("2027-02-16 12:00") // Petra's slabs were fetched Nov 17
		knows(map[string]bool{"Petra": true})
	})
}
