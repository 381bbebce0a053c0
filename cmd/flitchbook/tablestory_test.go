package main

import (
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/url"
	"path"
	"slices"
	"strings"
	"testing"
	"time"

	"flitchbook/planner/unit"
)

// step does one step of a slab by the API.
func (v *visitor) step(tag, fields string, want int) map[string]any {
	v.t.Helper()
	return v.ask(http.MethodPost, "/api/v1/slabs/"+tag+"/steps", "{"+fields+"}", want)
}

func (v *visitor) refused(tag, fields string, texts ...string) {
	v.t.Helper()
	no := v.step(tag, fields, http.StatusConflict)
	for _, s := range texts {
		if !strings.Contains(dig(no, "detail"), s) {
			v.t.Errorf("%s %s: %s, want %q", tag, fields, dig(no, "detail"), s)
		}
	}
}

// S-08: two friends swap slabs at B5's table, with all its numbers; and J6 and R25: the
// seal order by the wall clock, counted in, and a class that cannot be closed out.
func TestStoryTwoFriendsSwapSlabs(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-11-07 14:35")
		tobias := h.signedIn(t, "tobias")
		for tag, want := range map[string][4]string{"B5-01": {"5.62 lb", "56 g", "28 g", "6.4 g"}, "B5-06": {"4.31 lb", "43 g", "22 g", "4.9 g"}} {
			s := tobias.ask(http.MethodGet, "/api/v1/slabs/"+tag, "", http.StatusOK)
			got := [4]string{dig(s, "green"), dig(s, "ticket", "salt"), dig(s, "ticket", "sugar"), dig(s, "ticket", "curing_salt")}
			if got != want || dig(s, "skin_on") != "false" {
				t.Errorf("%s: %v, want %v", tag, got, want)
			}
		}
		tobias.refused("B5-01", `"step":"seal"`, `"cut"`)
		tobias.ask(http.MethodPost, "/api/v1/classes/B5/kits", "", http.StatusOK)
		tobias.ask(http.MethodPost, "/api/v1/scales/cure%20scale/checks", `{"shown":"5.0 g"}`, http.StatusOK)

		// J6: eleven bags, two a cycle of 90 s: six turns from minute 40 to 49.
		sealing := tobias.ask(http.MethodGet, "/api/v1/classes/B5/sealing", "", http.StatusOK)
		turns := sealing["turns"].([]any)
		var minutes []string
		for _, turn := range turns {
			minutes = append(minutes, dig(turn, "minute"))
		}
		if got := strings.Join(minutes, " "); got != "40 41 43 44 46 47" || dig(turns[0], "from") != "2026-11-07T20:40:00Z" || dig(turns[5], "until") != "2026-11-07T20:49:00Z" || len(turns[5].(map[string]any)["bags"].([]any)) != 1 {
			t.Errorf("seal order: minutes %s, %v", got, turns)
		}
		for _, page := range []string{"kitlist", "sheet"} {
			tobias.reads("/staff/classes/B5/"+page, "Seal order", "14:40:00", "14:47:30", "Counted in", "of 11")
		}
		tobias.reads("/staff/classes/B5/sealing", "0 of 11 sealed", "11 cut, 11 kitted", "14:41:30")

		// The cup of the one at the other's slab; the seat weight.
		tobias.refused("B5-01", `"step":"weigh","salt":"56","sugar":"28","curing_salt":"6.4","spice":"26","scale":"cure scale","cup":"B5-06"`, "120.1 ppm", "204.6 ppm")
		tobias.step("B5-01", `"step":"seat","weight":"5.55 lb"`, http.StatusOK)
		tobias.refused("B5-01", `"step":"seat","weight":"5.50 lb"`, "0.12 lb")

		// They swap. Cups stay with their tags; the spice goes with the people.
		tobias.ask(http.MethodPost, "/api/v1/slabs/B5-01/swap", `{"with":"B5-06"}`, http.StatusOK)
		for tag, want := range map[string][4]string{"B5-01": {"GP", "31 g", "6.4 g", "K26"}, "B5-06": {"PB", "20 g", "4.9 g", "K24"}} {
			s := tobias.ask(http.MethodGet, "/api/v1/slabs/"+tag, "", http.StatusOK)
			if got := [4]string{dig(s, "spice"), dig(s, "ticket", "spice"), dig(s, "ticket", "curing_salt"), dig(s, "booking")}; got != want {
				t.Errorf("%s after the swap: %v, want %v", tag, got, want)
			}
		}
		tobias.reads("/staff/bench?tag=B5-01&done=1&with=B5-06", "Print both bag labels", "Saoirse")
		if res, pdf := tobias.get("/staff/classes/B5/bags.pdf?tags=B5-01,B5-06"); res.StatusCode != http.StatusOK || strings.Count(pdf, "/Type /Page\n") != 2 {
			t.Errorf("both bag labels: %d, %d pages", res.StatusCode, strings.Count(pdf, "/Type /Page\n"))
		}

		// Sealing wants a weigh-out; "5" may come from a scale of whole grams.
		tobias.refused("B5-06", `"step":"seal"`, "no passing weigh-out")
		no := tobias.step("B5-06", `"step":"weigh","salt":"43","sugar":"22","curing_salt":"5","spice":"20","scale":"cure scale"`, http.StatusUnprocessableEntity)
		if !strings.Contains(fmt.Sprint(no), "no decimal") {
			t.Errorf("a whole number: %v", no)
		}
		tobias.step("B5-06", `"step":"weigh","salt":"43","sugar":"22","curing_salt":"5.0","spice":"20","scale":"cure scale","cup":"B5-06"`, http.StatusOK)
		trace := tobias.ask(http.MethodGet, "/api/v1/slabs/B5-06/trace", "", http.StatusOK)
		if got := fmt.Sprint(trace["steps"]); !strings.Contains(got, "5.0 g of curing salt, 159.8 ppm") {
			t.Errorf("5.0 g on 4.31 lb: %s", got)
		}
		tobias.reads("/staff/slabs/B5-06", "5.0 g for a ticket of 4.9 g, 159.8 ppm")
		tobias.step("B5-06", `"step":"seal"`, http.StatusOK)

		// Ten of eleven: the class stays open and the missing tag is named.
		for i := range 11 {
			tag := fmt.Sprintf("B5-%02d", i+1)
			if tag == "B5-06" || tag == "B5-09" {
				continue
			}
			tobias.sealKit(tag)
		}
		tobias.ask(http.MethodPost, "/api/v1/classes/B5/taught", "", http.StatusOK)
		no = tobias.ask(http.MethodPost, "/api/v1/classes/B5/closeout", "", http.StatusConflict)
		if got := dig(no, "detail"); !strings.Contains(got, "11 cut, 11 kitted, 10 sealed of 11. Not sealed: B5-09") {
			t.Error(got)
		}
		tobias.reads("/staff/classes/B5/sealing", "10 of 11 sealed", "Not sealed: B5-09")
		tobias.sealKit("B5-09")
		tobias.ask(http.MethodPost, "/api/v1/classes/B5/closeout", "", http.StatusOK)
	})
}

// sealKit weighs a kitted slab's ticket out and seals it.
func (v *visitor) sealKit(tag string) {
	v.t.Helper()
	s := v.ask(http.MethodGet, "/api/v1/slabs/"+tag, "", http.StatusOK)
	grams := func(key string) string { return strings.TrimSuffix(dig(s, "ticket", key), " g") }
	cure := grams("curing_salt")
	if !strings.Contains(cure, ".") {
		cure += ".0"
	}
	spice := ""
	if g := grams("spice"); !strings.HasPrefix(g, "0") {
		spice = fmt.Sprintf(`"spice":%q,`, g)
	}
	v.step(tag, fmt.Sprintf(`%s"step":"weigh","salt":%q,"sugar":%q,"curing_salt":%q,"scale":"cure scale","cup":%q`, spice, grams("salt"), grams("sugar"), cure, tag), http.StatusOK)
	v.step(tag, `"step":"seal"`, http.StatusOK)
}

// W7: eight scans with no network for 35 minutes arrive with the times they were done,
// the last first, and each twice.
func TestStoryEightScansArriveLate(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-11-12 09:36")
		tobias := h.signedIn(t, "tobias")
		for range 2 {
			for i := range 8 {
				done := unit.InstantOf(time.Date(2026, 11, 12, 9, 35-5*i, 0, 0, h.Loc))
				tag := fmt.Sprintf("B4-%02d", 8-i)
				_, text := tobias.json(http.MethodPost, "/api/v1/slabs/"+tag+"/steps", fmt.Sprintf(`{"step":"rinse","done_at":%q}`, done), "Idempotency-Key", "scan "+tag, "Device", "phone")
				if !strings.Contains(text, `"state":"rinsed"`) {
					t.Errorf("%s: %s", tag, text)
				}
			}
		}
		for i := range 8 {
			trace := tobias.ask(http.MethodGet, fmt.Sprintf("/api/v1/slabs/B4-%02d/trace", i+1), "", http.StatusOK)
			var done []string
			for _, s := range trace["steps"].([]any) {
				if dig(s, "to") == "rinsed" {
					done = append(done, dig(s, "done_at"))
				}
			}
			if want := []string{unit.InstantOf(time.Date(2026, 11, 12, 9, 5*i, 0, 0, h.Loc)).String()}; !slices.Equal(done, want) {
				t.Errorf("slab %d: done %v, want %v", i+1, done, want)
			}
		}
	})
}

// W10 and R43: Anselm misses B3. The class can be closed out with his slab kept; staff
// seal it three days later with the pick on file, that day is day 0, and no money moves.
func TestStoryAnselmMissesHisClass(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-10-24 16:00")
		p := h.post(t)
		tobias := h.signedIn(t, "tobias")
		sealing := tobias.ask(http.MethodGet, "/api/v1/classes/B3/sealing", "", http.StatusOK)
		if dig(sealing, "of") != "10" || dig(sealing, "sealed") != "9" || dig(sealing, "missing") != "[]" {
			t.Fatalf("B3 after its class: %v", sealing)
		}
		tag := dig(sealing, "kept", 0)
		slab := tobias.ask(http.MethodGet, "/api/v1/slabs/"+tag, "", http.StatusOK)
		if dig(slab, "booking") != "K15" || dig(slab, "state") != "kitted" {
			t.Errorf("%s is kept: %v", tag, slab)
		}
		tobias.ask(http.MethodPost, "/api/v1/classes/B3/closeout", "", http.StatusOK)

		// Asked the same day at 17:00, and not before; silence is the pick on file.
		p.pass("2026-10-24 16:59")
		if had := p.to("anselm@post.example.test"); len(had) != 0 {
			t.Errorf("before 17:00 he had %v", subjects(had))
		}
		p.pass("2026-10-24 17:00")
		asked := p.only("anselm@post.example.test", "We missed you")
		asked.says(t, "Your slab and its cure are kept together", "by Tue Oct 27, 17:00", "ready about Wed Nov 11", "the spice you chose before, or none")
		if strings.Contains(asked.text, "$") {
			t.Errorf("money is told to him: %s", asked.text)
		}
		// The message leads to the page where he chooses; after three days it takes nothing more.
		anselm, at := h.visitor(t), ""
		if _, link, ok := strings.Cut(asked.text, h.Config.BaseURL); ok {
			at = strings.Fields(link)[0]
		}
		// Sealed on the 27th, the twelve days are over on Sun Nov 8: Mon Nov 9, smoked, Wed Nov 11.
		if text := h.mySlabs(t, 15); !strings.Contains(text, "Ready about Wed Nov 11") {
			t.Errorf("before it is sealed he reads: %s", text)
		}
		anselm.reads(at, "Bacon ready about Wed Nov 11", "We missed you", "by Tue Oct 27, 17:00", "Choose the spice for Anselm")
		own := guestPath(person(t, anselm.own(at), "Anselm"))
		if text := anselm.reads(own, "We missed you", "juniper & thyme"); strings.Contains(text, "Choose at the table") {
			t.Errorf("there is no table any more: %s", text)
		}
		if g := anselm.ask(http.MethodGet, "/api/v1/guests/"+path.Base(own), "", http.StatusOK); dig(g, "picks_until") != "2026-10-27T17:00:00-05:00" && dig(g, "picks_until") != "2026-10-27T22:00:00Z" {
			t.Errorf("programs read that he may choose until %s", dig(g, "picks_until"))
		}
		p.pass("2026-10-26 09:00")
		anselm.answers(own, url.Values{"pick1": {"JT"}})
		if m := person(t, anselm.own(at), "Anselm"); dig(m, "picks", 0, "jar") != "JT" {
			t.Errorf("he chose JT: %v", m)
		}
		p.pass("2026-10-27 17:00")
		anselm.reads(own, "The class has begun")
		if res, page := anselm.post(own, url.Values{"name": {"Anselm"}, "pick1": {"PB"}}); res.StatusCode != http.StatusConflict {
			t.Errorf("he chose again after the end: %d %s", res.StatusCode, said(page))
		}
		tobias.ask(http.MethodPost, "/api/v1/scales/cure%20scale/checks", `{"shown":"5.0 g"}`, http.StatusOK)
		tobias.sealKit(tag)
		slab = tobias.ask(http.MethodGet, "/api/v1/slabs/"+tag, "", http.StatusOK)
		if dig(slab, "state") != "in cure" || dig(slab, "sealed_on") != "2026-10-27" || dig(slab, "unbag_from") != "2026-11-08" || dig(slab, "spice") != "JT" {
			t.Errorf("sealed for him: %v", slab)
		}
		// No give-back; the seat counts as missed, the slab as a student's.
		if text := tobias.reads("/staff/bookings/K15", "missed", "Seats $95.00", "Paid $95.00", "nothing owed"); strings.Contains(text, "-$") {
			t.Errorf("money moved for a missed class: %s", text)
		}
		if text := h.mySlabs(t, 15); !strings.Contains(text, "Ready about Wed Nov 11") {
			t.Errorf("he reads: %s", text)
		}
	})
}

// M9: twenty scans in any order on the morning after the cooler stood open; each answers
// in one line: whose, what is on it, which side, what next, allowed or held.
func TestStoryTwentyScans(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-11-08 09:00")
		tobias := h.signedIn(t, "tobias")
		sheet := tobias.ask(http.MethodGet, "/api/v1/bench/sheet", "", http.StatusOK)
		if strings.Contains(fmt.Sprint(sheet), "Solveig") {
			t.Error("the sheet a device keeps names a guest")
		}
		slabs := sheet["slabs"].([]any)
		dice := rand.New(rand.NewPCG(9, 20))
		held := 0
		for range 20 {
			tag := dig(slabs[dice.IntN(len(slabs))], "tag")
			s := tobias.ask(http.MethodGet, "/api/v1/slabs/"+tag, "", http.StatusOK)
			line := dig(s, "line")
			said := strings.HasPrefix(line, tag+": "+dig(s, "owner")+", ") && strings.Contains(line, ", side ") && !strings.Contains(line, "\n")
			switch {
			case dig(s, "state") == "on hold":
				held++
				said = said && strings.Contains(line, "held since Sun 04:15: nothing may be done")
			default:
				said = said && strings.Contains(line, "; next "+dig(s, "next")+", allowed")
			}
			if !said {
				t.Errorf("%s: %s", tag, line)
			}
			tobias.reads("/staff/bench?tag="+tag, line)
		}
		if held == 0 || held == 20 {
			t.Errorf("%d of twenty were on hold: the dice show one kind only", held)
		}
	})
}
