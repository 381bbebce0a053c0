package frontend

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/unit"
)

// office is the pages over a demo shop; who asks is set by hand.
type office struct {
	*storetest.House
	t   *testing.T
	e   *echo.Echo
	who shop.Actor
}

func openOffice(t *testing.T) *office {
	t.Helper()
	h := storetest.SQLite(t)
	o := &office{House: h, t: t, e: echo.New(), who: storetest.Odile}
	site, err := NewSite(h.Store, Config{})
	if err != nil {
		t.Fatal(err)
	}
	o.e.Use(func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c echo.Context) error {
			if o.who.IsStaff() {
				api.SetActor(c, o.who)
			}
			return next(c)
		}
	})
	o.e.HTTPErrorHandler = func(err error, c echo.Context) {
		if err := site.Fail(c, err); err != nil {
			t.Error(err)
		}
	}
	site.Routes(o.e)
	return o
}

// ask requests a page and returns its status and text; form nil is a GET. A redirect is
// followed once.
func (o *office) ask(path string, form url.Values) (int, string) {
	o.t.Helper()
	r := httptest.NewRequest(http.MethodGet, path, nil)
	if form != nil {
		r = httptest.NewRequest(http.MethodPost, path, strings.NewReader(form.Encode()))
		r.Header.Set(echo.HeaderContentType, echo.MIMEApplicationForm)
	}
	w := httptest.NewRecorder()
	o.e.ServeHTTP(w, r)
	if to := w.Header().Get(echo.HeaderLocation); w.Code == http.StatusSeeOther && form != nil {
		return o.ask(to, nil)
	}
	return w.Code, w.Body.String()
}

// has fails unless the page answers with the status and says all of it.
func (o *office) has(path string, form url.Values, status int, words ...string) string {
	o.t.Helper()
	got, body := o.ask(path, form)
	if got != status {
		o.t.Fatalf("%s: status %d, want %d\n%s", path, got, status, body)
	}
	for _, w := range words {
		if !strings.Contains(body, w) {
			o.t.Errorf("%s does not say %q", path, w)
		}
	}
	return body
}

func (o *office) must(err error) {
	o.t.Helper()
	if err != nil {
		o.t.Fatal(err)
	}
}

// bacon puts an open bacon class with seats sold into the shop.
func (o *office) bacon(code, starts string, sold int) {
	o.t.Helper()
	_, err := o.AddClass(o.Ctx, storetest.Odile, shop.NewClass{Code: code, Kind: "bacon", StartsAt: o.At(starts), MinSeats: -1, DemoSlabs: -1})
	o.must(err)
	o.must(o.Publish(o.Ctx, storetest.Odile, code))
	if sold == 0 {
		return
	}
	n := shop.NewBooking{Class: code, Counter: true, PayerName: "Imke S."}
	for i := range sold {
		n.People = append(n.People, shop.NewPerson{Name: fmt.Sprintf("Guest %d", i+1), Payer: i == 0})
	}
	b, err := o.Book(o.Ctx, storetest.Tobias, n, store.Once{})
	o.must(err)
	_, err = o.Pay(o.Ctx, storetest.Tobias, b.ID, shop.PaymentIn{Cents: b.DueNow, Method: "till", Key: "till/" + code})
	o.must(err)
}

// farmLink is the secret link that the slip's mail carries.
func (o *office) farmLink() string {
	o.t.Helper()
	link := ""
	_, err := o.Deliver(o.Ctx, func(_ context.Context, n shop.Notice, f shop.Facts) error {
		if n.Kind == shop.NoticeOrderAsked {
			link = f.Links.Order
		}
		return nil
	})
	o.must(err)
	u, err := url.Parse(link)
	if err != nil || !strings.HasPrefix(u.Path, "/o/") {
		o.t.Fatalf("the slip carries the link %q", link)
	}
	return u.Path
}

// From the sheet to the cut list by the pages alone: house scenario S-01 with its figures.
func TestFromSheetToCutList(t *testing.T) {
	o := openOffice(t)
	o.Go("2026-09-14 10:00")
	o.bacon("B1", "2026-10-10 14:00", 10)
	o.has("/owner/season", nil, 200, "B1", "Nothing breaks", `class="num">11<br><span class="small">as sold 11</span>`, "none yet")
	o.has("/owner/meat", nil, 200, "No kill day yet", "Wed Oct 7, 3 days before, order by Wed Sep 16")
	o.has("/owner/meat/plan", url.Values{"classes": {"B1"}, "kill": {"2026-10-06"}}, 200, "Kill Tue Oct 6")
	o.has("/owner/meat/plan", url.Values{"classes": {"B1"}, "kill": {"2026-10-09"}}, 422, "does not fit B1")
	page := o.has("/owner/meat/plan", url.Values{"classes": {"B1"}, "kill": {"2026-10-07"}}, 200,
		"Kill Wed Oct 7: pork for B1", "Order by Wed Sep 16, 17:00", "99.91 lb", "202.00 lb and up gives 3 a belly, under it 2", "One animal costs $584.40")
	if !strings.Contains(page, "in 2 days 7 h") {
		t.Error("the sheet does not count down to the order-by")
	}
	draft := url.Values{"kill": {"2026-10-07"}, "species": {"pork"}, "classes": {"B1"}, "farm": {"harl"}, "basis": {"full"}, "animals": {"two"}, "once": {"x"}}
	o.has("/owner/meat/orders", draft, 422, "whole number of animals", `value="two"`)
	draft.Set("animals", "2")
	o.has("/owner/meat/orders", draft, 200, "Order 1: 2 pigs from Harl Bank", "Ask the farm", "11 × slab when full")
	o.has("/owner/orders/1/send", url.Values{}, 200, "asked")
	o.has("/owner/orders/1/send", url.Values{}, 409, "cannot become")

	// The farm, without a login.
	link := o.farmLink()
	o.who = shop.Customer("visitor")
	o.has(link, nil, 200, "Can you bring <strong>2 pigs</strong>", "borne by the farm")
	o.has(link, url.Values{"answer": {"fewer"}, "animals": {"9"}, "words": {"one limps"}}, 422, "Fewer than 2", "one limps")
	o.has(link, url.Values{"answer": {"yes"}}, 200, "Your answer: yes, 2 pigs")
	o.has(link+"/slip", nil, 200, "Weirstone Yard", "condemned at inspection is borne by the farm")
	o.has("/o/nobodysnobodysnobodysnobody", nil, 404)
	o.has("/owner/orders/1", nil, http.StatusSeeOther)
	o.who = shop.Actor{Kind: "staff", Name: "Jun", Role: shop.Kitchen}
	o.has("/staff/orders/1", nil, 403)

	o.who = storetest.Odile
	o.Go("2026-10-07 12:30")
	o.has("/owner/orders/1", nil, 200, "slot held", "2 of 4 held", "Record the kill")
	o.has("/staff/orders/1/kill", url.Values{"tag1": {"HB-611"}, "hot1": {"208"}, "tag2": {"HB-612"}, "hot2": {"1,88"}}, 422, "write a point, not a comma", `value="HB-611"`, `value="1,88"`)
	o.has("/staff/orders/1/kill", url.Values{"tag1": {"HB-611"}, "hot1": {"208"}, "tag2": {"HB-612"}, "hot2": {"188"}}, 200, "Weigh in", "Animal 2 (HB-612)")

	// Tobias weighs in. What is typed wrong is refused, and kept.
	o.who = storetest.Tobias
	o.Go("2026-10-08 15:30")
	o.has("/staff/orders", nil, 200, `href="/staff/orders/1"`, "Thu Oct 8", "killed")
	good := func() url.Values {
		return url.Values{"killed": {"inspected"}, "legend": {"EST. 0000-DEMO"}, "side1L": {"100.6"}, "side1R": {"101.2"}, "side2L": {"90.8"}, "side2R": {"91.6"}}
	}
	for _, wrong := range []struct{ field, typed, says string }{
		{"side1L", "100,6", "write a point, not a comma"},
		{"side1R", "0", "above zero"},
		{"side2L", "2000 lb", "look at the scale again"},
		{"side2R", "", "weight is missing"},
		{"legend", "", "inspection mark"},
	} {
		v := good()
		v.Set(wrong.field, wrong.typed)
		body := o.has("/staff/orders/1/deliver", v, 422, wrong.says)
		if wrong.typed != "" && !strings.Contains(body, fmt.Sprintf(`value="%s"`, wrong.typed)) {
			t.Errorf("%s %q: what was typed is gone", wrong.field, wrong.typed)
		}
		if !strings.Contains(body, `value="90.8"`) && wrong.field != "side2L" {
			t.Errorf("%s %q: the other weights are gone", wrong.field, wrong.typed)
		}
	}
	page = o.has("/staff/orders/1/deliver", good(), 200, "10 slabs to be had, 11 wanted", "short 1", "3 × 4.38 lb", "2 × 5.00 lb, 1.85 lb over", "pig 2 L")
	if strings.Contains(page, "Do&nbsp;it") || strings.Contains(page, "$") {
		t.Error("the staff page offers the owner's decisions or shows money")
	}
	o.has("/owner/orders/1/ways", url.Values{"act": {"demo"}}, 403)

	o.who = storetest.Odile
	page = o.has("/owner/orders/1", nil, 200, "drop demo", "skin on", "3 × 4.60 lb instead of 2 × 5.00 lb", "Do&nbsp;it")
	belly := page[strings.Index(page, "pig 2 L</td>"):]
	id := between(belly, `name="belly" value="`, `"`)
	o.has("/owner/orders/1/ways", url.Values{"act": {"skin"}, "belly": {id}}, 200, "11 slabs to be had, 11 wanted", "3 × 4.60 lb")
	o.has("/owner/orders/1/ways", url.Values{"act": {"dance"}}, 422, "Choose one of the ways out")
	o.has("/staff/orders/1/cutlist", url.Values{}, 200, "B1-11", "skin on")
	o.has("/staff/orders/1/cutlist", nil, 200, "SKIN ON", "B1-07", "4.60 lb", "Guest 7 K01", "demo")
	o.has("/owner/orders/1/settle", url.Values{"farm": {"990,40"}, "plant": {"140"}}, 422, "not a comma", `value="990,40"`)
	o.has("/owner/orders/1/settle", url.Values{"farm": {"990.40"}, "plant": {"140"}}, 200, "settled")
	o.has("/owner/orders/7", nil, 404)
}

func between(s, from, to string) string {
	_, s, _ = strings.Cut(s, from)
	s, _, _ = strings.Cut(s, to)
	return s
}

// The owner sees what a closed floor touches before she says yes.
func TestFloorPage(t *testing.T) {
	o := openOffice(t)
	o.Go("2026-10-01 10:00")
	o.bacon("B8", "2026-11-21 14:00", 0)
	o.must(o.PlanKills(o.Ctx, storetest.Odile, []string{"B8"}, unit.DayOf(2026, 11, 18)))
	o.Go("2026-10-05 09:00")
	v := url.Values{"from": {"2026-11-16"}, "to": {"2026-11-1"}, "species": {"pork"}, "reason": {"deer season"}}
	o.has("/owner/floor", v, 422, "Write a date", `value="2026-11-1"`, `value="deer season"`)
	v.Set("to", "2026-11-29")
	o.has("/owner/floor", v, 200, "B8", "meat only", "It moves to the kill of Wed Nov 11 by itself", "order by Wed Oct 21, 17:00")
	o.has("/owner/meat", nil, 200, "Kill Wed Nov 18: pork for B8")
	v.Set("sure", "yes")
	o.has("/owner/floor", v, 200, "Kill Wed Nov 11: pork for B8")
}

// House scenario S-12 on the page: refused with the date, the seats that fit and the
// Saturday that does; the sketch stays.
func TestSeasonPageRefuses(t *testing.T) {
	o := openOffice(t)
	o.Go("2026-10-23 10:00")
	for code, at := range map[string]string{"B6": "2026-11-14 13:00", "B7": "2026-11-14 15:30", "B8": "2026-11-21 14:00"} {
		o.bacon(code, at, 0)
	}
	o.has("/owner/season/classes", url.Values{"code": {"b9"}, "kind": {"bacon"}, "starts": {"2026-11-21T16:30"}, "seats": {"ten"}}, 422, "whole number of seats", `value="ten"`)
	o.has("/owner/season/classes", url.Values{"code": {"b9"}, "kind": {"bacon"}, "starts": {"2026-11-21T16:30"}}, 200, "B9", "sketched")
	o.has("/owner/season/publish", url.Values{"code": {"B9"}}, 409, "Sat Nov 21: rack 44 of 36; at most 2 seats fit; the whole class fits on Sat Dec 5", "sketched",
		`role="img" aria-label="The season from Mon Oct 19`, "It first breaks on Sat Nov 21: rack 44 of 36.", "Where it breaks", `<text class="bad"`)
	// What fits is published, what does not stays and says why.
	o.has("/owner/season/classes", url.Values{"code": {"b10"}, "kind": {"bacon"}, "starts": {"2026-12-05T14:00"}}, 200, "B10", "2 classes are sketched; published in the order of their days, 1 would fit.")
	o.has("/owner/season/publish-all", url.Values{"x": {"1"}}, 200, "1 class is sketched; published in the order of their days, 0 would fit.", "Publish B9")
}

// Places on kill days, and an order that is changed: by pages alone.
func TestSlotsAndChangePages(t *testing.T) {
	o := openOffice(t)
	o.Go("2026-09-14 10:00")
	o.bacon("B1", "2026-10-10 14:00", 10)
	o.must(o.PlanKills(o.Ctx, storetest.Odile, []string{"B1"}, unit.DayOf(2026, 10, 7)))
	o.has("/owner/meat/orders", url.Values{"kill": {"2026-10-07"}, "species": {"pork"}, "classes": {"B1"}, "farm": {"harl"}, "basis": {"full"}, "animals": {"2"}, "once": {"x"}}, 200, "Change it")
	o.has("/owner/orders/1/send", url.Values{}, 200, "asked")
	link := o.farmLink()
	o.has(link, url.Values{"answer": {"yes"}}, 200, "Your answer: yes, 2 pigs")
	o.has("/owner/orders/1/change", url.Values{"animals": {"thre"}, "reason": {"a party"}}, 422, "whole number of animals", `value="thre"`, `value="a party"`)
	o.has("/owner/orders/1/change", url.Values{"animals": {"3"}}, 422, "Say why")
	o.has("/owner/orders/1/change", url.Values{"animals": {"3"}, "reason": {"a party"}}, 200, "3 pigs from Harl Bank", "promised 2", "The farm rang")
	o.has(link, nil, 200, "Can you bring <strong>3 pigs</strong>", "You promised 2", "No, it stays at 2 pigs")
	o.has(link+"/slip", nil, 200, "raised since, promised so far 2", "condemned at inspection is borne by the farm", "kill fee is still paid by the shop", "hot carcass weight")
	o.has(link, url.Values{"answer": {"yes"}}, 200, "Your answer: yes, 3 pigs")
	o.has("/owner/slots", nil, 200, "Wed Oct 7", "order 1</a> Harl Bank: 3", "Tue Oct 13")
	o.has("/owner/slots", url.Values{"day": {"2026-10-07"}, "species": {"pork"}, "capacity": {"two"}}, 422, "whole number of places", `value="two"`)
	o.has("/owner/slots", url.Values{"day": {"2026-10-07"}, "species": {"pork"}, "capacity": {"2"}}, 409, "3 places of that day are held already")
	o.has("/owner/slots", url.Values{"day": {"2026-10-13"}, "species": {"pork"}, "capacity": {"6"}}, 200, ">6<")
	o.who = storetest.Tobias
	o.has("/owner/slots", nil, 403)
	o.has("/owner/orders/1/change", url.Values{"animals": {"1"}, "reason": {"x"}}, 403)
}
