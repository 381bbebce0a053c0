package frontend

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/frontend/browsertest"
)

var jun = shop.Actor{Kind: "staff", ID: 4, Name: "Jun", Role: shop.Kitchen}

// kitchenDoor serves pages and API of a house to one person.
func kitchenDoor(t *testing.T, h *storetest.House) func(by shop.Actor, path string) *httptest.ResponseRecorder {
	t.Helper()
	var by shop.Actor
	e := kitchenSite(t, h, &by)
	return func(as shop.Actor, path string) *httptest.ResponseRecorder {
		by = as
		rec := httptest.NewRecorder()
		e.ServeHTTP(rec, httptest.NewRequest(http.MethodGet, path, nil))
		return rec
	}
}

// kitchenSite is what kitchenDoor asks; by is who asks next.
func kitchenSite(t *testing.T, h *storetest.House, by *shop.Actor) *echo.Echo {
	t.Helper()
	site, err := NewSite(h.Store, Config{})
	if err != nil {
		t.Fatal(err)
	}
	e := echo.New()
	e.HTTPErrorHandler = func(err error, c echo.Context) {
		if err := site.Fail(c, err); err != nil {
			t.Error(err)
		}
	}
	e.Use(func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c echo.Context) error {
			if by.Name != "" {
				api.SetActor(c, *by)
			}
			return next(c)
		}
	})
	site.Routes(e)
	api.New(e, h.Store, nil)
	return e
}

// eightDine sells the pig clinic D1 of the invented shop as its story has it, and holds
// one seat more.
func eightDine(t *testing.T, h *storetest.House) {
	t.Helper()
	if _, err := h.AddClass(h.Ctx, storetest.Odile, shop.NewClass{Code: "D1", Kind: "pig", StartsAt: h.At("2026-10-15 18:00"), MinSeats: -1, DemoSlabs: -1}); err != nil {
		t.Fatal(err)
	}
	if err := h.Publish(h.Ctx, storetest.Odile, "D1"); err != nil {
		t.Fatal(err)
	}
	h.Go("2026-09-21 12:00")
	other := func(words string) shop.Answers {
		return shop.Answers{State: shop.HasNeeds, Needs: []shop.NewNeed{{Allergen: "other", Words: words}}}
	}
	none := shop.Answers{State: shop.NoNeeds}
	coeliac := shop.Answers{State: shop.HasNeeds, Needs: []shop.NewNeed{{Allergen: "wheat", Severe: true, Words: "coeliac"}}}
	for i, told := range [][]shop.Answers{
		{none, coeliac, none, none}, {other("vegetarian"), other("pregnant")}, {none, {}}, {other("no <pork>")},
	} {
		n := shop.NewBooking{Number: 39 + i, Class: "D1", PayerName: "Payer Surname", PayerEmail: "payer@post.example.test", PayerPhone: "555-0139"}
		for j, a := range told {
			n.People = append(n.People, shop.NewPerson{Name: fmt.Sprintf("Guest%d%d", i+1, j+1), Needs: a, Wine: i == 0})
		}
		b, err := h.Book(h.Ctx, shop.Customer("payer"), n, store.Once{})
		if err != nil {
			t.Fatal(err)
		}
		if i == 3 {
			continue // somebody still paying
		}
		if _, err := h.Pay(h.Ctx, shop.Customer("payer"), b.ID, shop.PaymentIn{Cents: b.DueNow, Method: "till", Key: fmt.Sprint("till/", i)}); err != nil {
			t.Fatal(err)
		}
	}
}

// private is what the kitchen never sees: mail, phone, payer, money.
var private = []string{"example.test\"", "payer@", "555-0139", "Surname", "$165", "$660", "16500", "66000"}

// The sheet of outcome M4 as the kitchen reads it.
func TestKitchenPages(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		eightDine(t, h)
		get := kitchenDoor(t, h)

		list := get(jun, "/staff/kitchen")
		for _, want := range []string{`href="/staff/kitchen/D1"`, `class="num">8<`, "1 held or offered", "ASK 1", "1 severe", "freezes Mon Oct 12, 00:00", `aria-current="page">Kitchen`} {
			if list.Code != http.StatusOK || !strings.Contains(list.Body.String(), want) {
				t.Errorf("%d: the list does not say %q", list.Code, want)
			}
		}
		sheet := get(jun, "/staff/kitchen/D1")
		body := sheet.Body.String()
		for _, want := range []string{
			"Thu Oct 15, 18:00", "paper.", "version ", "printed Mon Sep 21, 2026, 12:00",
			`Surely coming</th><td class="num">4</td><td class="num">3</td><td class="num">1</td><td class="num"><strong>8</strong>`,
			`may yet come</th><td class="num">0</td><td class="num">1</td><td class="num">0</td><td class="num">1<`,
			`wheat</th><td>coeliac</td><td class="num">1</td><td class="num"><span class="mark">1</span>`,
			`<th scope="row">vegetarian</th><td></td><td class="num">1`, `<th scope="row">pregnant</th><td></td><td class="num">1`,
			`told none</th><td></td><td class="num">4`, `NOT TOLD</th><td></td><td class="num">1`,
			`Guest32</th><td>K41</td><td><span class="mark">ASK</span>`, `Guest31</th><td>K41</td><td>none<`,
			"KEPT OFF THE WHOLE TABLE</span> wheat:", "<strong>4</strong> of 21 and over said yes; 4 of them gave no age", "Watching children: none",
			// 9 heads: 54 oz ÷ 0.737 = 73.27 oz = 4.58 lb
			"AWAY FROM THIS TABLE</span> bread (wheat, severe)", `<th scope="row">nut sausage</th><td>tree nut</td>`, "AT EVERY DISH</span>",
			"<strong>4.58 lb</strong> boneless pork loin raw for 9 heads", "26.3 % lost in cooking", "earlier lot", "not a guarantee", "no &lt;pork&gt;",
		} {
			if sheet.Code != http.StatusOK || !strings.Contains(body, want) {
				t.Errorf("%d: the sheet does not say %q", sheet.Code, want)
			}
		}
		for _, p := range private {
			if strings.Contains(body+list.Body.String(), p) {
				t.Errorf("the kitchen is shown %q", p)
			}
		}
		if sheet.Header().Get("Cache-Control") != "no-store" {
			t.Error("a sheet with names may be kept by browsers")
		}
		if large := get(jun, "/staff/kitchen/D1?large=1").Body.String(); !strings.Contains(large, `<body class="large`) {
			t.Error("no large print")
		}
		if lost := get(jun, "/staff/kitchen/D9"); lost.Code != http.StatusNotFound {
			t.Errorf("no such dinner: %d", lost.Code)
		}

		h.Go("2026-10-13 09:00")
		if body := get(jun, "/staff/kitchen/D1").Body.String(); !strings.Contains(body, "Nothing was noted as changed since the sheet froze Mon Oct 12, 00:00") {
			t.Error("a frozen sheet does not say that nothing changed")
		}
		if _, err := h.Book(h.Ctx, shop.Customer("payer"), shop.NewBooking{Number: 70, Class: "D1", PayerName: "Late", PayerEmail: "late@post.example.test", People: []shop.NewPerson{{}}}, store.Once{}); err != nil {
			t.Fatal(err)
		}
		body = get(jun, "/staff/kitchen/D1").Body.String()
		for _, want := range []string{"Changed since Mon Oct 12, 00:00", "Tue Oct 13, 09:00 K70: seats taken, held for now", "not named yet"} {
			if !strings.Contains(body, want) {
				t.Errorf("the box of changes does not say %q", want)
			}
		}
	})
}

func TestKitchenGuard(t *testing.T) {
	h := storetest.SQLite(t)
	eightDine(t, h)
	get := kitchenDoor(t, h)
	farm := shop.Actor{Kind: "farm", Name: "Harl Bank"}
	for _, path := range []string{"/staff/kitchen", "/staff/kitchen/D1", "/api/v1/dinners/D1/table"} {
		for _, by := range []shop.Actor{{}, farm} {
			rec := get(by, path)
			if rec.Code != http.StatusSeeOther && rec.Code != http.StatusUnauthorized || strings.Contains(rec.Body.String(), "wheat") {
				t.Errorf("%s as %q: %d", path, by.Name, rec.Code)
			}
		}
		for _, by := range []shop.Actor{jun, storetest.Tobias, storetest.Odile} {
			if rec := get(by, path); rec.Code != http.StatusOK {
				t.Errorf("%s as %s: %d", path, by.Name, rec.Code)
			}
		}
	}
}

func TestTableByAPI(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		eightDine(t, h)
		get := kitchenDoor(t, h)
		rec := get(jun, "/api/v1/dinners/D1/table")
		var got struct {
			Code        string
			Sure, Maybe struct {
				Heads, None, List int
				NotTold           int `json:"not_told"`
				Needs             []struct {
					Need           string
					Words          []string
					People, Severe int
				}
			}
			KeepAway []string `json:"keep_away"`
			People   []struct{ Booking, Name, Answer string }
			Changes  []any
			NotFrom  []string `json:"not_from"`
			Buy      struct{ Roast, Raw, Cooked, Loss string }
			Caution  string
		}
		if err := json.Unmarshal(rec.Body.Bytes(), &got); rec.Code != http.StatusOK || err != nil {
			t.Fatal(rec.Code, err, rec.Body)
		}
		if s := got.Sure; s.Heads != 8 || s.None != 4 || s.List != 3 || s.NotTold != 1 || got.Maybe.Heads != 1 {
			t.Errorf("%+v", got)
		}
		if n := got.Sure.Needs; len(n) != 3 || n[0].Need != "wheat" || n[0].Words[0] != "coeliac" || n[0].Severe != 1 || n[1].Need != "pregnant" || n[2].Need != "vegetarian" {
			t.Errorf("%+v", n)
		}
		asked := ""
		for _, p := range got.People {
			if p.Answer == "ask" {
				asked += p.Booking + p.Name
			}
		}
		if asked != "K41Guest32" || fmt.Sprint(got.KeepAway) != "[wheat]" || got.Changes == nil || got.NotFrom == nil || !strings.Contains(got.Caution, "not a guarantee") {
			t.Errorf("ask %q, %+v", asked, got)
		}
		if got.Buy.Raw != "4.58 lb" || got.Buy.Loss != "26.3 %" || got.Buy.Cooked != "0.375 lb" {
			t.Errorf("%+v", got.Buy)
		}
		for _, p := range private {
			if strings.Contains(rec.Body.String(), p) {
				t.Errorf("the kitchen is shown %q", p)
			}
		}
		if rec := get(jun, "/api/v1/dinners/D9/table"); rec.Code != http.StatusNotFound || rec.Header().Get("Content-Type") != "application/problem+json" {
			t.Errorf("no such dinner: %d %s", rec.Code, rec.Header())
		}
	})
}

// The list on the screens of the kitchen, the sheet on A4 and Letter, also in large print.
func TestKitchenInABrowser(t *testing.T) {
	h := storetest.SQLite(t)
	eightDine(t, h)
	b := browsertest.Start(t, kitchenSite(t, h, &jun))
	for name, path := range map[string]string{"kitchen": "/staff/kitchen", "dishes": "/staff/dishes", "menu": "/staff/kitchen/D1/menu"} {
		b.On(t, name, path, 44, []browsertest.Screen{browsertest.Narrow, browsertest.Phone, browsertest.Tablet, browsertest.Desk})
	}
	for name, paper := range map[string]chromedp.PaperSize{"a4": browsertest.A4, "letter": browsertest.Letter} {
		for _, large := range []string{"", "?large=1"} {
			tab := b.Tab(t, browsertest.Desk)
			tab.Open("/staff/kitchen/D1" + large)
			tab.Shot("table-" + name + strings.Trim(large, "?=1"))
			tab.Axe()
			all := ""
			for _, s := range browsertest.Printed(t, tab.PDF("table-"+name+strings.Trim(large, "?=1"), paper), paper) {
				if !strings.Contains(s.Text(), "Table sheet D1") || !strings.Contains(s.Text(), "version") {
					t.Errorf("%s%s: a sheet without its running head", name, large)
				}
				all += s.Text()
			}
			for _, want := range []string{"Guest32", "ASK", "coeliac", "4.58 lb", "guarantee", "AWAY FROM THIS TABLE bread", "nut sausage"} {
				if !strings.Contains(all, want) {
					t.Errorf("%s%s does not print %q", name, large, want)
				}
			}
		}
	}
}
