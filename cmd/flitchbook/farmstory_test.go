package main

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

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
