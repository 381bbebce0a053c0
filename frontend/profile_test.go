package frontend

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"flitchbook/api/shop"
	"flitchbook/api/store/storetest"
	"flitchbook/frontend/browsertest"
)

// The farm's page after house scenario S-01: its own animals beside the prior, and the
// owner taking them over; a published prior is only a way to look.
func TestFarmPage(t *testing.T) {
	o := openOffice(t)
	o.has("/owner/farms", nil, http.StatusOK, "Harl Bank", "Lampwick Hollow")
	o.has("/owner/farms/harl", nil, http.StatusOK, "None of its animals was weighed here yet.")
	o.has("/owner/farms/nowhere", nil, http.StatusNotFound)
	shortOrder(o)
	page := o.has("/owner/farms/harl", nil, http.StatusOK, "206.00 lb", "198.00 lb", "203.71 lb", "2 pigs weighed", "Order 1",
		"Harl Bank, 2 pigs hung: 2 bellies of 4 gave three slabs skinless, 2 gave two slabs skinless.", "Translational Animal Science", "Reckon with “together” from today")
	if strings.Contains(page, "15.8") {
		t.Error("a belly nobody weighed has moved the farm's share")
	}
	o.has("/owner/farms/harl?prior=pork-tas-average", nil, http.StatusOK, "Prior: Translational Animal Science", "204.02 lb")
	o.has("/owner/farms/harl/yield", url.Values{"species": {"pork"}, "prior": {"lamb-handbook"}}, http.StatusUnprocessableEntity, "no published list of pork")
	o.has("/owner/farms/harl/yield", url.Values{"species": {"pork"}, "prior": {""}}, http.StatusOK, "The shop reckons with these figures.", "2 pigs of its own, over the shop&#39;s own book")
	o.has("/owner/farms/harl/yield", url.Values{"species": {"pork"}, "prior": {""}}, http.StatusConflict, "reckons with these figures already")
	o.who = storetest.Tobias
	o.has("/owner/farms/harl", nil, http.StatusForbidden)
}

// E-C1 to E-C3 (textbook exercise [read], answers computed) typed into the form; E-C6 is
// refused beside its field and nothing typed is lost.
func TestCuttingTestPages(t *testing.T) {
	o := openOffice(t)
	o.Go("2026-10-09 10:00")
	o.has("/owner/cutting-tests", nil, http.StatusOK, "None is kept yet.")
	f := url.Values{"name": {"Rib, whole"}, "bought": {"620 oz"}, "price": {"$3.19"}, "usable_name": {"oven ready"}, "usable": {"22"}, "farm": {""},
		"part1": {"fat"}, "weight1": {"6.5"}, "part3": {"bones"}, "weight3": {"4.25"}, "price3": {"0.32"}, "part4": {"short ribs"}, "weight4": {"3.25"}, "price4": {"1.49"},
		"part5": {"chopped"}, "weight5": {"2.5"}, "price5": {"1.59"}, "cooked": {"20.25"}, "carving": {"1.25"}, "portion": {"10"}, "once": {"t1"}}
	o.has("/owner/cutting-tests", f, http.StatusOK, "Rib, whole", "$5.97 a pound", "$3.73 a portion", "$123.61", "$10.18", "$113.44", "0.25 lb", "49.0 %", "1.8716", "1.1697", "8.0 %")
	o.has("/owner/cutting-tests/1?price=3.49", nil, http.StatusOK, "<strong>$6.53</strong>", "<strong>$4.08</strong>")
	o.has("/owner/cutting-tests/1?price=dear", nil, http.StatusUnprocessableEntity, "Write a price a pound")
	o.has("/owner/cutting-tests", f, http.StatusOK, "$5.97 a pound") // pressed twice
	o.has("/owner/cutting-tests", nil, http.StatusOK, "$5.97")

	bad := url.Values{"name": {"Half"}, "bought": {"30"}, "price": {"1"}, "usable": {"18"}, "part1": {"a"}, "weight1": {"9"}, "part2": {"b"}, "weight2": {"3.5"}, "part4": {""}, "weight4": {"1"}, "farm": {"mars/pork"}}
	page := o.has("/owner/cutting-tests", bad, http.StatusUnprocessableEntity, "Name this part.", "Choose one of the farms.", `value="3.5"`, `value="Half"`)
	if strings.Contains(page, "weighed more than bought") {
		t.Error("two complaints at once about weights that are not complete")
	}
	bad.Del("weight4")
	bad.Set("farm", "")
	o.has("/owner/cutting-tests", bad, http.StatusUnprocessableEntity, "Weighed more than bought: 30.50 lb of 30.00 lb.")
	if n, err := o.CuttingTests(o.Ctx); err != nil || len(n) != 1 {
		t.Errorf("%d tests kept, %v", len(n), err)
	}
	o.has("/owner/cutting-tests/99", nil, http.StatusNotFound)
}

// Weekly outlets typed over, and the meat sheet that holds the order against them.
func TestOutletPage(t *testing.T) {
	o := openOffice(t)
	o.Go("2026-09-14 10:00")
	o.bacon("B1", "2026-10-10 14:00", 10)
	_, err := o.PlanSeason(o.Ctx, storetest.Odile)
	o.must(err)
	o.has("/owner/outlets", nil, http.StatusOK, "Pork: ham", `value="70.00"`, `value="2.60"`)
	o.has("/owner/outlets", url.Values{"pork/ham/counter/week": {"much"}, "pork/ham/counter/price": {"2.60"}, "pork/ham/sausage/week": {"5"}, "pork/ham/sausage/price": {""}},
		http.StatusUnprocessableEntity, `value="much"`, "What does a pound of ham fetch that way?")
	f := url.Values{}
	for _, cut := range []string{"ham", "loin", "butt", "picnic", "ribs", "rest"} {
		for _, way := range shop.OutletWays {
			f.Set("pork/"+cut+"/"+way+"/week", "0")
			f.Set("pork/"+cut+"/"+way+"/price", "0")
		}
	}
	f.Set("pork/ham/counter/week", "60")
	f.Set("pork/ham/counter/price", "2.60")
	f.Set("pork/ham/sausage/week", "30")
	f.Set("pork/ham/sausage/price", "1.50")
	o.has("/owner/outlets", f, http.StatusOK, `value="60.00"`)
	// Two pigs leave 335.70 lb besides bellies; the outlets take 90 of it for $201.00.
	o.has("/owner/meat", nil, http.StatusOK, "245.70 lb without a home", "counter 60.00 lb, $156.00; sausage 30.00 lb, $45.00", "$201.00")
}

// The account of B1 as S-01 leaves it, before its skins are decided: by hand 10 × 95 =
// 950; three slabs of 4.378 and of 4.404 and four of 5 lb = 46.347 lb × 5.60 = 259.54; ten
// slabs 48.50 and 120 min 44.00; 95.00 and 50.00.
func TestClassMoneyPages(t *testing.T) {
	o := openOffice(t)
	shortOrder(o)
	o.has("/owner/classes/B1/money", nil, http.StatusOK, "$950.00", "46.35 lb at $5.60 a pound", "$259.54", "$48.50", "$44.00", "Margin $452.96", "2 pigs of order 1, as they hung",
		"Belly costs <strong>$4.39</strong> a pound so, and lists at $4.70", "$1130.40")
	o.has("/owner/money", nil, http.StatusOK, "/owner/classes/B1/money", "$452.96")
	o.has("/owner/classes/B9/money", nil, http.StatusOK, "Nobody has booked", "one pig of 206.00 lb, as usual", "$584.40", "$628.90", "92.92 %", "<strong>$4.37</strong>")
	o.has("/owner/classes/X9/money", nil, http.StatusNotFound)
	o.has("/owner/classes/B9/go", nil, http.StatusOK, "Does", "6 short", "bellies have another home: 12 slabs to house bacon", "Called off, nobody is touched.")
	o.has("/owner/classes/X9/go", nil, http.StatusNotFound)
	o.who = storetest.Tobias
	o.has("/owner/money", nil, http.StatusForbidden)
	o.has("/owner/classes/B1/go", nil, http.StatusForbidden)
}

// These pages fit a phone and a desk and break no rule of accessibility.
func TestProfilePagesInABrowser(t *testing.T) {
	o := openOffice(t)
	shortOrder(o)
	o.has("/owner/cutting-tests", url.Values{"name": {"Rib"}, "bought": {"28"}, "price": {"1.30"}, "usable": {"16"}, "part1": {"fat"}, "weight1": {"3"}, "price1": {"0.10"}, "portion": {"8"}}, http.StatusOK)
	b := browsertest.Start(t, o.e)
	for name, path := range map[string]string{"farms": "/owner/farms", "farm-yield": "/owner/farms/harl", "tests": "/owner/cutting-tests", "test": "/owner/cutting-tests/1?price=1.50",
		"outlets": "/owner/outlets", "limits": "/owner/limits", "money": "/owner/money", "class-money": "/owner/classes/B1/money", "go": "/owner/classes/B9/go"} {
		b.On(t, name, path, 0, phoneAndDesk)
	}
	t.Run("what it leaves, opened", func(t *testing.T) {
		tab := b.Tab(t, browsertest.SmallPhone)
		tab.Open("/owner/meat")
		browsertest.Eval[bool](tab, `document.querySelectorAll("details").forEach((d) => d.open = true); true`)
		tab.Shot("leaves")
		tab.Fits()
		tab.Axe()
	})
	// The account and the sheet to decide by are read at the table too: they print whole.
	for paper, size := range map[string]chromedp.PaperSize{"a4": browsertest.A4, "letter": browsertest.Letter} {
		for name, path := range map[string]string{"class-money": "/owner/classes/B1/money", "go": "/owner/classes/B9/go", "test": "/owner/cutting-tests/1"} {
			tab := b.Tab(t, browsertest.Desk)
			tab.Open(path)
			tab.PDF(name+"-"+paper, size)
		}
	}
}
