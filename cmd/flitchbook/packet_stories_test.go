package main

import (
	"bytes"
	"context"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"flitchbook/api/shop"
)

// handling stands where a shop puts the wording of its regulation.
const handling = "Invented words in place of the regulation's."

// posts are the subjects of the messages to an address, sorted.
func (h *tale) posts(t *testing.T, to string) []string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(h.mails, "*.eml"))
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, f := range files {
		raw, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		if bytes.Contains(raw, []byte("<"+to+">")) {
			out = append(out, openLetter(t, raw).subject)
		}
	}
	slices.Sort(out)
	return out
}

// about counts the messages whose subject has the words.
func about(subjects []string, words string) int {
	n := 0
	for _, s := range subjects {
		if strings.Contains(s, words) {
			n++
		}
	}
	return n
}

// party finds the one party that answers to a few letters.
func (v *visitor) party(letters string) map[string]any {
	v.t.Helper()
	list, _ := v.ask(http.MethodGet, "/api/v1/pickups?q="+url.QueryEscape(letters), "", http.StatusOK)["parties"].([]any)
	if len(list) != 1 {
		v.t.Fatalf("%d parties answer to %q", len(list), letters)
	}
	return list[0].(map[string]any)
}

const ignaceMail = "ignace@post.example.test"

// untilD3 tells the story to the moment Ignace's packet is scanned onto D3, by the page.
func untilD3(t *testing.T, database string) (*tale, *visitor, string) {
	t.Helper()
	if _, already := besides.LoadOrStore(t, true); !already {
		t.Parallel()
	}
	h := openTale(t, database)
	h.until(t, "2026-11-14 15:20")
	h.Rules.Handling = handling
	tobias := h.signedIn(t, "tobias")
	p := tobias.party("ignace")
	to, err := h.Pickup(t.Context(), storeBooking(p))
	if err != nil {
		t.Fatal(err)
	}
	if to.Booking.PayerEmail != ignaceMail {
		t.Fatalf("Ignace's address is %s", to.Booking.PayerEmail)
	}
	return h, tobias, dig(p, "ready", 0, "tag")
}

// The bacon nobody fetches: told when it is scanned onto the shelf, once; reminded on days
// 3, 7 and 10 and, day 13 being closed, on day 14, "today until 18:00"; to the freezer at
// 18:00, with its own label; he comes on Dec 19, pays nothing, and hears no more.
func TestStoryBaconNobodyFetches(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h, tobias, tag := untilD3(t, database)
		label := tobias.ask(http.MethodGet, "/api/v1/slabs/"+tag+"/label", "", http.StatusOK)
		if dig(label, "packed_on") != "2026-11-14" || dig(label, "use_by") != "2026-12-05" || dig(label, "name") != "Bacon" ||
			dig(label, "ingredients") != "[pork belly salt garlic & paprika (garlic, smoked paprika, black pepper) sugar sodium nitrite]" {
			t.Errorf("label %v", label)
		}
		ready := h.mailTo(t, ignaceMail, "is ready")
		for _, w := range []string{"Sat Dec 5", "41 °F", "Not cooked"} {
			if !strings.Contains(ready.text, w) {
				t.Errorf("the ready message does not say %q:\n%s", w, ready.text)
			}
		}
		for _, s := range []struct {
			at          string
			ask, freeze int
		}{
			{"2026-11-17 09:59", 0, 0}, {"2026-11-17 10:00", 1, 0}, {"2026-11-21 09:59", 1, 0}, {"2026-11-21 10:00", 2, 0}, {"2026-11-24 09:59", 2, 0}, {"2026-11-24 10:00", 3, 0},
			{"2026-11-27 19:00", 3, 0}, {"2026-11-28 09:59", 3, 0}, {"2026-11-28 10:00", 4, 0}, {"2026-11-28 17:59", 4, 0}, {"2026-11-28 18:00", 4, 1},
		} {
			h.until(t, s.at)
			got := h.posts(t, ignaceMail)
			asked := about(got, "waiting for you") + about(got, "Please fetch")
			if asked != s.ask || about(got, "freezer") != s.freeze || about(got, "is ready") != 1 {
				t.Errorf("%s: %d reminders, %d of the freezer, want %d and %d: %q", s.at, asked, about(got, "freezer"), s.ask, s.freeze, got)
			}
			want := map[bool]string{true: "true", false: "false"}[s.freeze == 1]
			line := find(t, tobias.ask(http.MethodGet, "/api/v1/shelf", "", http.StatusOK)["packets"], "tag", tag)
			if dig(line, "to_freezer") != want || dig(line, "freeze_on") != "2026-11-28" {
				t.Errorf("%s: the shelf says %v, want to_freezer %s", s.at, line, want)
			}
		}
		if last := h.mailTo(t, ignaceMail, "today (Sat Nov 28) until 18:00"); !strings.Contains(strings.Join(strings.Fields(last.text), " "), "until 18:00; after that we freeze it") {
			t.Errorf("the last reminder: %s", last.text)
		}
		if froze := h.mailTo(t, ignaceMail, "freezer"); !strings.Contains(strings.Join(strings.Fields(froze.text), " "), "nothing to pay") || !strings.Contains(froze.text, "within 7 days") {
			t.Errorf("the freezer's message: %s", froze.text)
		}
		// The task at 18:00, its label, and nothing sent twice.
		tobias.reads("/staff/shelf", tag, "to the freezer")
		tobias.reads("/staff/today", tag, "to the freezer")
		tobias.ask(http.MethodPost, "/api/v1/slabs/"+tag+"/steps", `{"step":"freeze"}`, http.StatusOK)
		label = tobias.ask(http.MethodGet, "/api/v1/slabs/"+tag+"/label", "", http.StatusOK)
		if dig(label, "frozen_on") != "2026-11-28" || dig(label, "use_by") != "2027-02-28" || dig(label, "thaw_days") != "7" {
			t.Errorf("freezer label %v", label)
		}
		if res, pdf := tobias.get("/staff/slabs/" + tag + "/frozen.pdf"); res.StatusCode != http.StatusOK || !strings.Contains(pdf, "289.13 144.57") {
			t.Errorf("the freezer's label: %d", res.StatusCode)
		}
		// He comes on Dec 19.
		h.until(t, "2026-12-19 12:00")
		before := h.posts(t, ignaceMail)
		p := tobias.party("ignace")
		if !strings.HasPrefix(dig(p, "where"), "freezer ") {
			t.Errorf("found at %s", dig(p, "where"))
		}
		tobias.reads("/staff/find?q=ignace", "1 packet waits", "freezer ", "Hand over")
		if text := tobias.reads("/staff/shelf?q=ignace", "Ignace V.", "1 packet", "No one else named", "Handed to Ignace V."); strings.Contains(text, "$") {
			t.Errorf("a fee is asked for: %s", text)
		}
		if res, body := tobias.post("/staff/shelf/"+dig(p, "id"), url.Values{"named": {"Ignace V."}, "tags": {tag}}); res.StatusCode != http.StatusSeeOther {
			t.Fatalf("hand-over: %d %s", res.StatusCode, said(body))
		}
		h.until(t, "2027-01-20 12:00")
		after := h.posts(t, ignaceMail)
		if len(after) != len(before)+2 || about(after, "Enjoy your bacon") != 1 || about(after, "Two questions") != 1 || about(after, "Last reminder") != 0 {
			t.Errorf("after he had it: %q, before %q", after, before)
		}
		if n := about(h.posts(t, "odile@corbel.example.test"), "Ignace"); n != 0 {
			t.Errorf("the owner was asked about him %d times", n)
		}
	})
}

// He never comes: a last word on day 46, the owner asked on day 60, and nothing is marked
// by itself; only the owner may give it up.
func TestStoryNobodyEverComes(t *testing.T) {
	h, tobias, tag := untilD3(t, "")
	h.until(t, "2026-11-28 18:00")
	tobias.ask(http.MethodPost, "/api/v1/slabs/"+tag+"/steps", `{"step":"freeze"}`, http.StatusOK)
	for _, s := range []struct {
		at   string
		last int
	}{{"2026-12-30 09:59", 0}, {"2026-12-30 10:00", 1}, {"2027-01-13 09:59", 1}, {"2027-02-01 12:00", 1}} {
		h.until(t, s.at)
		if n := about(h.posts(t, ignaceMail), "Last reminder"); n != s.last {
			t.Errorf("%s: %d last words, want %d", s.at, n, s.last)
		}
	}
	if got := dig(tobias.ask(http.MethodGet, "/api/v1/slabs/"+tag, "", http.StatusOK), "state"); got != "in the freezer" {
		t.Errorf("by itself it became %s", got)
	}
	tobias.ask(http.MethodPost, "/api/v1/slabs/"+tag+"/steps", `{"step":"give-up","reason":"day 60"}`, http.StatusForbidden)
	h.signedIn(t, "odile").ask(http.MethodPost, "/api/v1/slabs/"+tag+"/steps", `{"step":"give-up","reason":"day 60, no answer"}`, http.StatusOK)
}

// A reminder that was already waiting is not sent once the packet has been handed over.
func TestStoryReminderCalledOff(t *testing.T) {
	h, tobias, tag := untilD3(t, "")
	h.until(t, "2026-11-24 09:59")
	p := tobias.party("ignace")
	tobias.ask(http.MethodPost, "/api/v1/bookings/"+dig(p, "id")+"/handover", `{"to":"Ignace V.","tags":["`+tag+`"]}`, http.StatusOK)
	h.until(t, "2026-11-29 12:00")
	got := h.posts(t, ignaceMail)
	if asked := about(got, "waiting for you") + about(got, "Please fetch"); asked != 2 || about(got, "freezer") != 0 {
		t.Errorf("after he had it on day 10: %q", got)
	}
}

// The right packet to the right hand: two packets, told when the second is scanned onto its
// place, found by "sol", handed over with both tags scanned and a third refused.
func TestStoryRightPacketRightHand(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-11-11 15:19")
		tobias := h.signedIn(t, "tobias")
		p := tobias.party("solveig")
		var tags []string
		for _, s := range p["to_come"].([]any) {
			tag, _, _ := strings.Cut(s.(string), " ")
			tags = append(tags, tag)
		}
		if len(tags) != 2 {
			t.Fatalf("Solveig's packets: %v", p)
		}
		told := func() int {
			return about(h.waiting(t), "ready to Solveig A.")
		}
		for i, place := range []string{"F1", "F2"} {
			if told() != 0 {
				t.Errorf("told with %d of 2 on the shelf", i)
			}
			if res, body := tobias.post("/staff/shelf", url.Values{"tag": {tags[i]}, "place": {place}}); res.StatusCode != http.StatusSeeOther {
				t.Fatalf("onto the shelf: %d %s", res.StatusCode, said(body))
			}
		}
		tobias.post("/staff/shelf", url.Values{"tag": {tags[1]}, "place": {"F2"}})
		if told() != 1 {
			t.Errorf("told %d times, want once: %v", told(), h.waiting(t))
		}
		tobias.reads("/staff/shelf?q=sol", "Solveig A.", "2 packets, shelf F1 and F2.", "No one else named")
		if first := tobias.ask(http.MethodGet, "/api/v1/pickups?q=sol", "", http.StatusOK)["parties"]; dig(first, 0, "name") != "Solveig A." || dig(first, 0, "where") != "shelf F1 and F2" {
			t.Errorf("sol finds %v", first)
		}
		for _, q := range []string{"K14", tags[0], strings.ToLower(tags[1])} {
			if dig(tobias.party(q), "name") != "Solveig A." {
				t.Errorf("%q does not find her", q)
			}
		}
		at := "/staff/shelf/" + dig(p, "id")
		third := ""
		for _, s := range tobias.ask(http.MethodGet, "/api/v1/shelf", "", http.StatusOK)["packets"].([]any) {
			if dig(s, "booking") != "K14" {
				third = dig(s, "tag")
			}
		}
		for says, scans := range map[string][]string{"Scan every packet": tags[:1], third + " is not Solveig A.'s": append(slices.Clone(tags), third)} {
			res, body := tobias.post(at, url.Values{"named": {"Solveig A."}, "tags": {strings.Join(scans, "\n")}, "q": {"sol"}})
			if res.StatusCode != http.StatusConflict || !strings.Contains(said(body), says) {
				t.Errorf("scanned %v: %d, want %q in %s", scans, res.StatusCode, says, said(body))
			}
		}
		// A friend she has named on her page is shown, and may.
		link := h.slabPath(t, p)
		guest := h.visitor(t)
		if res, _ := guest.post(link+"/collector", url.Values{"collector": {"Eskil"}}); res.StatusCode != http.StatusSeeOther {
			t.Fatalf("naming Eskil: %d", res.StatusCode)
		}
		tobias.reads("/staff/shelf?q=sol", "Eskil fetches", "Handed to Eskil")
		if res, body := tobias.post(at, url.Values{"named": {"Eskil"}, "tags": {strings.Join(tags, "\n")}}); res.StatusCode != http.StatusSeeOther {
			t.Fatalf("hand-over: %d %s", res.StatusCode, said(body))
		}
		guest.reads(link, "You have it all")
	})
}

func storeBooking(p map[string]any) (id shop.BookingID) {
	return shop.BookingID(int64(p["id"].(float64)))
}

// slabPath is the path of a party's My-slab page.
func (h *house) slabPath(t *testing.T, p map[string]any) string {
	t.Helper()
	to, err := h.Pickup(context.Background(), storeBooking(p))
	if err != nil {
		t.Fatal(err)
	}
	link := h.SlabLink(&to.Booking)
	return link[strings.Index(link, "/s/"):]
}

// The page of one's own slab tells its small story: farm, side, day in cure, and what the
// weight did, on a slab of 4.38 lb of which 3.72 lb is left. It is nobody else's and is
// kept by no cache.
func TestStoryMySlab(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-10-15 12:00")
		tobias := h.signedIn(t, "tobias")
		p := tobias.party("B1-01")
		link, me := h.slabPath(t, p), h.visitor(t)
		text := me.reads(link, "Ready about", "Day 5 of at least 12 in cure", "From Harl Bank, the left side of the pig. You started with 4.38 lb.", "This bacon is not cooked", "145 °F", "Someone else may fetch it", "Slice it for me")
		for _, s := range []string{"is waiting", "Tobias", "R1 ", "@"} {
			if strings.Contains(text, s) {
				t.Errorf("the page says %q: %s", s, text)
			}
		}
		res, _ := me.get(link)
		if res.Header.Get("Cache-Control") != "no-store" || res.Header.Get("Referrer-Policy") != "no-referrer" || !strings.Contains(res.Header.Get("X-Robots-Tag"), "noindex") {
			t.Errorf("the page's headers: %v", res.Header)
		}
		if res, _ := me.get(link[:len(link)-1] + "x"); res.StatusCode != http.StatusNotFound {
			t.Errorf("an address off by a letter: %d", res.StatusCode)
		}
		api := me.ask(http.MethodGet, "/api/v1/my-slab/"+strings.TrimPrefix(link, "/s/"), "", http.StatusOK)
		if dig(api, "slabs", 0, "stage") != "curing" || dig(api, "slabs", 0, "farm") != "Harl Bank" || dig(api, "may_change") != "true" {
			t.Errorf("by JSON: %v", api)
		}
	})
	t.Run("on the shelf", func(t *testing.T) {
		h := storyAt(t, "", "2026-10-28 10:30")
		tobias := h.signedIn(t, "tobias")
		p := tobias.party("B1-01")
		tobias.ask(http.MethodPost, "/api/v1/slabs/B1-01/steps", `{"step":"pack","weight":"3.72 lb"}`, http.StatusOK)
		tobias.ask(http.MethodPost, "/api/v1/slabs/B1-01/steps", `{"step":"shelve","place":"A1"}`, http.StatusOK)
		text := h.visitor(t).reads(h.slabPath(t, p), "on the shelf")
		if !regexp.MustCompile(`From Harl Bank, the left side of the pig\. You started with 4\.38 lb; 3\.72 lb is waiting: the rest was water you made the salt take out\.`).MatchString(text) {
			t.Errorf("the story: %s", text)
		}
		if strings.Contains(text, "Slice it for me") {
			t.Error("sliced or whole is asked after smoking")
		}
	})
}
