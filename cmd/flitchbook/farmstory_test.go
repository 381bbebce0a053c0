package main

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// orderFor is the number and the farm's secret link of the order for a species on a kill
// day of the story.
func (h *house) orderFor(t *testing.T, kill unit.Day, species string) (number int, link string) {
	t.Helper()
	ctx := context.Background()
	number, err := h.OrderNumber(ctx, kill, species)
	if err != nil {
		t.Fatal(err)
	}
	v, err := h.OrderPage(ctx, number)
	if err != nil {
		t.Fatal(err)
	}
	return number, "/o/" + h.OrderSecret(&v.Order)
}

// Asked, hung and invoiced: house scenario S-10, four pigs promised, one condemned, three
// hung at 206 lb. By the rules the farm is owed 618 × $2.40 = $1,483.20 and 3 × $20.00
// haul, the plant 4 × $70.00. Cold the sides weigh 599.40 lb in the story: 18.60 lb under
// hot, 3.0 %. On cold weight the bill would be $1,438.56, $44.64 short.
func TestStoryThreeWayCheck(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-10-22 13:00")
		odile, tobias := h.signedIn(t, "odile"), h.signedIn(t, "tobias")
		n, _ := h.orderFor(t, unit.DayOf(2026, 10, 21), "pork")
		bills := fmt.Sprintf("/owner/orders/%d/invoices", n)
		api := fmt.Sprintf("/api/v1/orders/%d/invoices", n)

		// The owner types the farm's first bill, which is on cold weight. A comma is refused
		// and what she typed kept.
		form := url.Values{"number": {"HB 77"}, "animals": {"3"}, "basis": {"cold"}, "weight": {"599,40"}, "price": {"2.40"}, "meat": {"1438.56"}, "haul": {"60"}, "total": {"1498.56"}}
		res, body := odile.post(bills+"/farm", form)
		if res.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(body, `value="599,40"`) || !strings.Contains(body, `value="HB 77"`) {
			t.Fatalf("a comma: %d %s", res.StatusCode, said(body))
		}
		form.Set("weight", "599.40")
		if res, body := odile.post(bills+"/farm", form); res.StatusCode != http.StatusSeeOther {
			t.Fatalf("the farm's bill: %d %s", res.StatusCode, said(body))
		}
		odile.reads(bills, "4 asked, 4 promised", "4 killed, 1 condemned, 3 delivered", "618.00 lb", "599.40 lb", "look at it",
			"Agreed is hot weight: 618.00 lb hot at $2.40 is $1483.20 for the meat, and the bill asks $1438.56", "-$44.64 against the slip",
			"From 618.00 lb hot to 599.40 lb cold is a shrink of 3.0 %; about 3.0 % is usual", "Keep these papers to Sun Dec 31, 2028")

		// The corrected one agrees, and the first stays on record.
		three := odile.ask(http.MethodPost, api, `{"from": "farm", "number": "HB 77a", "basis": "hot", "animals": 3, "weight": "618 lb", "price": "$2.40", "meat": "$1483.20", "haul": "$60.00", "total": "$1543.20"}`, http.StatusOK)
		if got := [5]string{dig(three, "bills", 0, "agrees"), dig(three, "bills", 0, "weight_difference"), dig(three, "bills", 0, "money_difference"), dig(three, "typed"), dig(three, "due_farm")}; got != [5]string{"true", "0.00 lb", "$0.00", "2", "$1543.20"} {
			t.Errorf("the corrected bill: %v", got)
		}
		// The plant asks for composting, which nobody spoke of.
		three = odile.ask(http.MethodPost, api, `{"from": "plant", "animals": 4, "meat": "$280.00", "other": "$25.00", "words": "composting", "total": "$305.00"}`, http.StatusOK)
		if dig(three, "bills", 1, "agrees") != "false" || dig(three, "bills", 1, "money_difference") != "$25.00" {
			t.Errorf("the plant's bill: %v", three["bills"])
		}
		odile.reads(bills, "agrees", "18.60 lb above our cold 599.40 lb: that is the chill shrink, not a mistake", "$25.00 more for composting", "HB 77,", "HB 77a")
		odile.ask(http.MethodPost, api, `{"from": "plant", "animals": 4, "meat": "$280.00", "other": "$25.00", "total": "$305.00"}`, http.StatusUnprocessableEntity)
		// The order's page offers what the bills say; paying it needs a word.
		odile.reads(fmt.Sprintf("/owner/orders/%d", n), "Bills: asked, hung and invoiced")
		odile.ask(http.MethodPost, fmt.Sprintf("/api/v1/orders/%d/settle", n), `{"farm": "$1543.20", "plant": "$305.00"}`, http.StatusUnprocessableEntity)
		odile.ask(http.MethodPost, fmt.Sprintf("/api/v1/orders/%d/settle", n), `{"farm": "$1543.20", "plant": "$305.00", "note": "composting, agreed by telephone"}`, http.StatusOK)
		if res, _ := tobias.get(bills); res.StatusCode != http.StatusForbidden {
			t.Errorf("Tobias reads the bills: %d", res.StatusCode)
		}
		// Before a kill there is nothing to bill.
		later, _ := h.orderFor(t, unit.DayOf(2026, 10, 27), "beef")
		odile.ask(http.MethodPost, fmt.Sprintf("/api/v1/orders/%d/invoices", later), `{"from": "plant", "animals": 1, "meat": "$120.00", "total": "$120.00"}`, http.StatusConflict)
	})
}

// A note back to the farm (house outcome J7). B1's two pigs: the second hung light and
// gave three slabs only with the skin on. By Nov 13 17 pigs had hung: 32 bellies of 34
// gave three slabs skinless.
func TestStoryNoteBackToTheFarm(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-10-12 09:00")
		odile, farm := h.signedIn(t, "odile"), h.visitor(t)
		n, link := h.orderFor(t, unit.DayOf(2026, 10, 7), "pork")
		want := []string{"2 bellies of 4 gave three slabs skinless, 2 only with the skin on", "12 slabs", "L belly 14.53 lb, 3 × 4.60 lb with the skin on", "L belly 16.10 lb, 3 × 4.38 lb"}
		page := fmt.Sprintf("/owner/orders/%d/yield", n)
		odile.reads(page, append(want, "Send it to Harl Bank")...)
		text := farm.reads(link+"/yield", want...)
		for _, not := range []string{"B1", "Imke", "K01", "$"} {
			if strings.Contains(text, not) {
				t.Errorf("the farm's note says %q", not)
			}
		}
		for range 2 { // the second press is told so
			odile.post(page, url.Values{})
		}
		odile.ask(http.MethodPost, fmt.Sprintf("/api/v1/orders/%d/yield/send", n), "", http.StatusConflict)
		var mails []string
		_, err := h.Deliver(context.Background(), func(_ context.Context, n shop.Notice, f shop.Facts) error {
			if n.Kind == shop.NoticeYieldNote {
				mails = append(mails, strings.Join(append(f.Weights, f.Lines...), " "))
			}
			return nil
		})
		if err != nil || len(mails) != 1 || !strings.Contains(mails[0], "2 only with the skin on") {
			t.Errorf("%d notes to the farm, %v: %v", len(mails), err, mails)
		}
		odile.reads(page, "Sent to Harl Bank Mon Oct 12, 09:00")
		// No note before the animals are weighed in.
		_, later := h.orderFor(t, unit.DayOf(2026, 10, 13), "pork")
		if res, _ := farm.get(later + "/yield"); res.StatusCode != http.StatusNotFound {
			t.Errorf("a note of animals that live: %d", res.StatusCode)
		}
		farm.reads(link, "What your animals gave, side by side")
	})
	h := storyAt(t, "", "2026-11-13 09:00")
	n, _ := h.orderFor(t, unit.DayOf(2026, 11, 11), "pork")
	note := h.signedIn(t, "odile").ask(http.MethodGet, fmt.Sprintf("/api/v1/orders/%d/yield", n), "", http.StatusOK)
	if s := dig(note, "season"); !strings.Contains(s, "17 pigs hung") || !strings.Contains(s, "1 condemned") || !strings.Contains(s, "32 bellies of 34 gave three slabs skinless, 2 only with the skin on") {
		t.Errorf("Harl Bank's year: %s", s)
	}
}

// A beef hindquarter from kill to what is left to sell, by pages and API: the age asked, a
// hunted or custom-killed carcass turned away, quarters weighed in, the class's claim, the
// rest over the counter; then a dinner. House scenario D5: one beef for 10 guests, killed
// Tue Oct 27, 16 days before the class on Thu Nov 12.
func TestStoryHindquarter(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-10-27 12:00")
		odile, tobias := h.signedIn(t, "odile"), h.signedIn(t, "tobias")
		n, link := h.orderFor(t, unit.DayOf(2026, 10, 27), "beef")
		page, api := fmt.Sprintf("/staff/orders/%d", n), fmt.Sprintf("/api/v1/orders/%d", n)
		odile.reads("/owner/meat", "beef for D5", "1 hindquarter", "Fri Aug 28, 17:00")
		tobias.reads(page, "How old at the kill?")
		odile.ask(http.MethodPost, api+"/kill", `{"animals": [{"tag": "NR-07", "hot": "742 lb"}]}`, http.StatusUnprocessableEntity)
		res, body := tobias.post(page+"/kill", url.Values{"tag1": {"NR-07"}, "hot1": {"742"}})
		if res.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(said(body), "30 months or older?") || !strings.Contains(body, `value="NR-07"`) {
			t.Errorf("a kill without an age: %d %s", res.StatusCode, said(body))
		}
		odile.ask(http.MethodPost, api+"/kill", `{"animals": [{"tag": "NR-07", "hot": "742 lb", "age": "under 30 months"}]}`, http.StatusOK)

		at, err := time.ParseInLocation("2006-01-02 15:04", "2026-11-12 09:10", h.Loc)
		if err != nil {
			t.Fatal(err)
		}
		h.Clock.Set(unit.InstantOf(at))
		form := url.Values{"killed": {"custom exempt"}, "legend": {"EST. 0000-DEMO"}, "side1LH": {"171.5"}, "side1LF": {"186.5"}, "side1RH": {"173"}, "side1RF": {""}}
		for _, no := range []struct{ killed, says string }{{"custom exempt", "NOT FOR SALE"}, {"hunted", "Hunted beef"}, {"inspected", "Its weight is missing"}} {
			form.Set("killed", no.killed)
			res, body := tobias.post(page+"/deliver", form)
			if res.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(said(body), no.says) || !strings.Contains(body, `value="186.5"`) {
				t.Errorf("%s: %d %s", no.killed, res.StatusCode, said(body))
			}
		}
		form.Set("side1RF", "188")
		if res, body := tobias.post(page+"/deliver", form); res.StatusCode != http.StatusSeeOther {
			t.Fatalf("weighing in: %d %s", res.StatusCode, said(body))
		}
		pieces := func() string {
			var out []string
			for _, p := range tobias.ask(http.MethodGet, api+"/pieces", "", http.StatusOK)["pieces"].([]any) {
				out = append(out, dig(p, "piece")+" "+dig(p, "weight")+" "+strings.TrimPrefix(dig(p, "purpose")+" "+dig(p, "class"), "<nil> "))
			}
			return strings.Join(out, "; ")
		}
		if got, want := pieces(), "hindquarter 171.50 lb <nil>; forequarter 186.50 lb <nil>; hindquarter 173.00 lb class D5; forequarter 188.00 lb <nil>"; got != want {
			t.Errorf("pieces %s; want %s", got, want)
		}
		tobias.reads(page, "beef 1 (NR-07) R hindquarter", "class D5", "free", "Everything that is free over the counter")
		if res, _ := tobias.post(page+"/rest", url.Values{}); res.StatusCode != http.StatusSeeOther {
			t.Errorf("the rest: %d", res.StatusCode)
		}
		if got, want := pieces(), "hindquarter 171.50 lb counter <nil>; forequarter 186.50 lb counter <nil>; hindquarter 173.00 lb class D5; forequarter 188.00 lb counter <nil>"; got != want {
			t.Errorf("pieces %s; want %s", got, want)
		}
		// The farm reads its quarters.
		h.visitor(t).reads(link+"/yield", "L hindquarter 171.50 lb, forequarter 186.50 lb", "719.00 lb cold", "3.1 % lost between the two")
		odile.reads(fmt.Sprintf("/owner/orders/%d", n), "refused at the door")
	})
}

// Dinner meat comes from an earlier lot (R22). For D1, 8 heads at 6 oz of boneless loin that
// loses 26.3 %: 8 × 6 ÷ 16 ÷ 0.737 = 4.07 lb (house scenario S-15's figure for 8). B1's pigs
// came on Oct 8; the class half comes with B2's on Oct 15.
func TestStoryDinnerMeat(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-10-15 12:00")
		jun, odile := h.signedIn(t, "jun"), h.signedIn(t, "odile")
		jun.reads("/staff/kitchen/D1/meat", "4.07 lb boneless pork loin raw for 8 heads", "26.3 %", "L2-2026-10-08", "proposed")
		jun.reads("/staff/kitchen/D1/meat?roast=fresh+ham%2C+roasted&portion=8", "8 oz cooked", "25.6 %")
		if res, body := jun.get("/staff/kitchen/D1/meat?roast=fresh+ham%2C+roasted&portion=x"); res.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(body, `value="x"`) {
			t.Errorf("a portion of x: %d", res.StatusCode)
		}
		m := jun.ask(http.MethodGet, "/api/v1/dinners/D1/meat?portion=6%20oz", "", http.StatusOK)
		own, earlier := dig(m, "not_from", 0), dig(m, "lots", 0, "lot")
		if dig(m, "buy", "raw") != "4.07 lb" || dig(m, "lots", 0, "proposed") != "true" || own == "nothing" {
			t.Fatalf("dinner meat %v", m)
		}
		jun.ask(http.MethodPost, "/api/v1/dinners/D1/lot", fmt.Sprintf(`{"lot": %q}`, own), http.StatusUnprocessableEntity)
		if res, body := jun.post("/staff/kitchen/D1/meat", url.Values{"lot": {own}}); res.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(said(body), "earlier lot") {
			t.Errorf("the class's own lot on the page: %d", res.StatusCode)
		}
		if res, _ := jun.post("/staff/kitchen/D1/meat", url.Values{"lot": {earlier}}); res.StatusCode != http.StatusSeeOther {
			t.Errorf("lot %s: %d", earlier, res.StatusCode)
		}
		jun.reads("/staff/kitchen/D1", "lot "+earlier, "NOT FROM "+own)
		// A side of the class half is refused for the dinner too.
		n, _ := h.orderFor(t, unit.DayOf(2026, 10, 13), "pork")
		side := odile.ask(http.MethodGet, fmt.Sprintf("/api/v1/orders/%d/pieces", n), "", http.StatusOK)["pieces"].([]any)[0]
		p := odile.ask(http.MethodPost, "/api/v1/claims", fmt.Sprintf(`{"piece": "side", "id": %s, "purpose": "dinner", "class": "D1"}`, dig(side, "id")), http.StatusUnprocessableEntity)
		if !strings.Contains(dig(p, "detail"), "earlier lot") {
			t.Errorf("refused with %v", p)
		}
	})
}

// What if the pigs hang lighter (house outcome J3): B1's two pigs at 200 lb instead of 206
// give 8 slabs for 12; the skin left on all four bellies gives 12 again.
func TestStoryWhatIfTheyHangLighter(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-10-07 09:00")
		odile := h.signedIn(t, "odile")
		odile.reads("/owner/meat", "What if they hang lighter?")
		page := "/owner/meat/weight?kill=2026-10-07&species=pork&count=full"
		odile.reads(page, "12 slabs from 4 bellies", "12 wanted: enough", "202.00 lb and up gives 3 a belly, under it 2")
		odile.reads(page+"&hang=200", "At 200.00 lb", "12 slabs at 206.00 lb become 8", "short 4", "Skin left on 4 bellies of 4 closes it", "Skinless it would take 3 pigs")
		odile.reads(page+"&hang=170", "Skin left on every belly gives 8 slabs: not enough")
		if res, body := odile.get(page + "&hang=20,5"); res.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(said(body), "comma") {
			t.Errorf("a comma: %d %s", res.StatusCode, said(body))
		}
		w := odile.ask(http.MethodGet, "/api/v1/meat/weight?kill=2026-10-07&species=pork&hang=200%20lb", "", http.StatusOK)
		if got := [6]string{dig(w, "slabs_at_usual"), dig(w, "slabs"), dig(w, "short"), dig(w, "slabs_skin_on"), dig(w, "skins_to_leave_on"), dig(w, "animals_needed")}; got != [6]string{"12", "8", "4", "12", "4", "3"} {
			t.Errorf("at 200 lb: %v", got)
		}
		odile.ask(http.MethodGet, "/api/v1/meat/weight?kill=2026-10-07&species=pork&hang=2000%20lb", "", http.StatusUnprocessableEntity)
		odile.ask(http.MethodGet, "/api/v1/meat/weight?kill=2026-10-08&species=pork", "", http.StatusNotFound)
		odile.ask(http.MethodGet, "/api/v1/meat/weight?kill=2026-10-27&species=beef", "", http.StatusUnprocessableEntity)
	})
}

// What the house's other clinics are fed with, as the story has it: half a pig for D1, a
// whole lamb for D4, a deer for D2 until it is called off at its order-by.
func TestStoryClinicsOfEverySpecies(t *testing.T) {
	claims := func(v *visitor, n int) string {
		var out []string
		for _, p := range v.ask(http.MethodGet, fmt.Sprintf("/api/v1/orders/%d/pieces", n), "", http.StatusOK)["pieces"].([]any) {
			if dig(p, "purpose") == "class" {
				out = append(out, dig(p, "piece")+" "+dig(p, "weight")+" "+dig(p, "class"))
			}
		}
		return strings.Join(out, "; ")
	}
	h := storyAt(t, "", "2026-08-29 09:00")
	odile := h.signedIn(t, "odile")
	for _, k := range odile.ask(http.MethodGet, "/api/v1/meat", "", http.StatusOK)["kills"].([]any) {
		if dig(k, "species") == "deer" {
			if got := [5]string{dig(k, "classes", 0), dig(k, "kill"), dig(k, "order_by"), dig(k, "sold", "animals"), dig(k, "full", "animals")}; got != [5]string{"D2", "2026-10-14", "2026-08-30T22:00:00Z", "1", "1"} {
				t.Errorf("the deer of D2: %v", got)
			}
		}
	}
	h = storyAt(t, "", "2026-11-05 09:00")
	odile = h.signedIn(t, "odile")
	for _, r := range []struct {
		kill          unit.Day
		species, want string
	}{
		{unit.DayOf(2026, 10, 13), "pork", "side"},
		{unit.DayOf(2026, 10, 28), "lamb", "animal 59.10 lb D4"},
	} {
		n, link := h.orderFor(t, r.kill, r.species)
		got := claims(odile, n)
		if !strings.HasPrefix(got, r.want) || strings.Contains(got, ";") {
			t.Errorf("%s killed %s: %s; want one %s", r.species, r.kill, got, r.want)
		}
		odile.reads(fmt.Sprintf("/staff/orders/%d", n), "Pieces and what they are for")
		if r.species == "lamb" {
			odile.reads(fmt.Sprintf("/owner/orders/%d/yield", n), "61.00 lb hot, 59.10 lb cold", "whole 59.10 lb")
			h.visitor(t).reads(link+"/yield", "1 lamb from Farther Croft")
		}
	}
}
