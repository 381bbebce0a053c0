package frontend

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/labstack/echo/v4"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/mail/calendar/calendartest"
)

// ask sends one request to e, with headers as "Name: value".
func ask(e *echo.Echo, method, path string, headers ...string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, path, nil)
	for _, h := range headers {
		name, value, _ := strings.Cut(h, ": ")
		r.Header.Set(name, value)
	}
	rec := httptest.NewRecorder()
	e.ServeHTTP(rec, r)
	return rec
}

var feedAddress = regexp.MustCompile(`https://corbel\.example\.test(/calendar/[a-z0-9]+\.ics)`)

// address is the calendar's path as the page shows it.
func address(t *testing.T, page *httptest.ResponseRecorder) string {
	t.Helper()
	m := feedAddress.FindStringSubmatch(page.Body.String())
	if page.Code != http.StatusOK || m == nil {
		t.Fatalf("%d, no calendar address in\n%s", page.Code, page.Body)
	}
	return m[1]
}

func TestCalendarsOverHTTP(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		var by shop.Actor
		e := kitchenSite(t, h, &by)
		eightDine(t, h)
		if _, err := h.AddClass(h.Ctx, storetest.Odile, shop.NewClass{Code: "B5", Kind: "bacon", StartsAt: h.At("2026-11-07 14:00"), MinSeats: -1, DemoSlabs: -1}); err != nil {
			t.Fatal(err)
		}
		if err := h.Publish(h.Ctx, storetest.Odile, "B5"); err != nil {
			t.Fatal(err)
		}

		pub := ask(e, http.MethodGet, "/calendar/public.ics")
		if pub.Code != http.StatusOK || pub.Header().Get("Content-Type") != "text/calendar; charset=utf-8" {
			t.Fatalf("%d %v", pub.Code, pub.Header())
		}
		var starts []string
		for _, ev := range calendartest.Read(t, pub.Body.Bytes()) {
			starts = append(starts, ev.Start)
		}
		// The clocks go back on Sun Nov 1: 18:00 is 23:00 UTC before, 14:00 is 20:00 UTC after
		// (15 U.S.C. 260a).
		if want := []string{"2026-10-15T23:00:00Z", "2026-11-07T20:00:00Z"}; !slices.Equal(starts, want) {
			t.Errorf("classes start at %v, want %v", starts, want)
		}
		for _, name := range []string{"Guest", "Payer", "Surname"} {
			if strings.Contains(pub.Body.String(), name) {
				t.Errorf("the public calendar says %q", name)
			}
		}
		tag := pub.Header().Get("ETag")
		for _, header := range []string{tag, `"other", W/` + tag, "*"} {
			if again := ask(e, http.MethodGet, "/calendar/public.ics", "If-None-Match: "+header); again.Code != http.StatusNotModified || again.Body.Len() != 0 {
				t.Errorf("If-None-Match %s: %d, %d bytes", header, again.Code, again.Body.Len())
			}
		}
		if again := ask(e, http.MethodGet, "/calendar/public.ics", `If-None-Match: "other"`); again.Code != http.StatusOK {
			t.Errorf("another tag: %d", again.Code)
		}
		if head := ask(e, http.MethodHead, "/calendar/public.ics"); head.Code != http.StatusOK || head.Header().Get("ETag") != tag {
			t.Errorf("HEAD: %d", head.Code)
		}
		for _, path := range []string{"/calendar/public", "/calendar/staff.ics", "/calendar/.ics", "/calendar/abcdefghijkmnpqrstuvwxyz23.ics", "/b/nobody/class.ics", "/b/nobody/calendar", "/o/nobody/calendar"} {
			if got := ask(e, http.MethodGet, path); got.Code != http.StatusNotFound {
				t.Errorf("%s: %d", path, got.Code)
			}
		}

		// The booking's own calendar, its file, and another address for it.
		b, err := h.Book(h.Ctx, shop.Customer("payer"), shop.NewBooking{Number: 28, Class: "B5", PayerName: "Nerys D.", PayerEmail: "nerys@post.example.test", PayerPhone: "555-0128",
			People: []shop.NewPerson{{Name: "Nerys D."}}}, store.Once{})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := h.Pay(h.Ctx, shop.Customer("payer"), b.ID, shop.PaymentIn{Cents: b.DueNow, Method: "till", Key: "till/28"}); err != nil {
			t.Fatal(err)
		}
		door := "/b/" + b.Secret
		file := ask(e, http.MethodGet, door+"/class.ics")
		if ct := file.Header().Get("Content-Type"); file.Code != http.StatusOK || ct != "text/calendar; charset=utf-8; method=PUBLISH" || !strings.HasPrefix(file.Header().Get("Content-Disposition"), "attachment") {
			t.Fatalf("%d %v", file.Code, file.Header())
		}
		if ev := calendartest.Read(t, file.Body.Bytes()); len(ev) != 1 || ev[0].Method != "PUBLISH" || ev[0].Start != "2026-11-07T20:00:00Z" {
			t.Errorf("%+v", ev)
		}
		mine := address(t, ask(e, http.MethodGet, door+"/calendar"))
		own := ask(e, http.MethodGet, mine)
		if ev := calendartest.Read(t, own.Body.Bytes()); own.Code != http.StatusOK || len(ev) != 2 || !strings.HasPrefix(own.Header().Get("Cache-Control"), "private") {
			t.Errorf("%d, %+v, want the class and the ready-about day", own.Code, ev)
		}
		if res := ask(e, http.MethodPost, door+"/calendar"); res.Code != http.StatusSeeOther {
			t.Fatalf("%d", res.Code)
		}
		if got := ask(e, http.MethodGet, mine); got.Code != http.StatusNotFound {
			t.Errorf("the old address answers %d", got.Code)
		}
		if now := address(t, ask(e, http.MethodGet, door+"/calendar")); now == mine || ask(e, http.MethodGet, now).Code != http.StatusOK {
			t.Errorf("the new address is %s", now)
		}
	})
}

func TestStaffCalendarsPage(t *testing.T) {
	h := storetest.SQLite(t)
	var by shop.Actor
	e := kitchenSite(t, h, &by)
	account := func(login string, role shop.Role) shop.Actor {
		a, err := h.AddAccount(h.Ctx, storetest.Odile, shop.NewAccount{Login: login, Name: login, Role: role, Password: "three words in a row"})
		if err != nil {
			t.Fatal(err)
		}
		return shop.Actor{Kind: "staff", ID: a.ID, Name: a.Name, Role: a.Role}
	}
	nadia, cook := account("nadia", shop.Staff), account("jun", shop.Kitchen)
	if got := ask(e, http.MethodGet, "/staff/calendars"); got.Code != http.StatusSeeOther {
		t.Errorf("a visitor: %d", got.Code)
	}
	by = nadia
	was := address(t, ask(e, http.MethodGet, "/staff/calendars"))
	if got := ask(e, http.MethodGet, was); got.Code != http.StatusOK {
		t.Errorf("%s: %d", was, got.Code)
	}
	renew := func(kind string, subject shop.AccountID) *httptest.ResponseRecorder {
		r := httptest.NewRequest(http.MethodPost, "/staff/calendars", strings.NewReader(fmt.Sprintf("kind=%s&subject=%d", kind, subject)))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		rec := httptest.NewRecorder()
		e.ServeHTTP(rec, r)
		return rec
	}
	for _, no := range []struct {
		kind    string
		subject shop.AccountID
	}{{"owner", nadia.ID}, {"staff", cook.ID}, {"farm", 1}, {"nonsense", nadia.ID}} {
		if got := renew(no.kind, no.subject); got.Code != http.StatusForbidden {
			t.Errorf("the %s calendar of %d renewed by staff: %d", no.kind, no.subject, got.Code)
		}
	}
	if got := ask(e, http.MethodPost, "/staff/calendars"); got.Code != http.StatusNotFound {
		t.Errorf("no calendar named: %d", got.Code)
	}
	if got := renew("staff", nadia.ID); got.Code != http.StatusSeeOther {
		t.Errorf("renew: %d", got.Code)
	}
	if got := ask(e, http.MethodGet, was); got.Code != http.StatusNotFound {
		t.Errorf("the old address: %d", got.Code)
	}
	by = cook
	page := ask(e, http.MethodGet, "/staff/calendars").Body.String()
	if !strings.Contains(page, "<h2>Kitchen</h2>") || strings.Contains(page, "<h2>Staff</h2>") || strings.Contains(page, "<h2>Owner</h2>") {
		t.Errorf("the kitchen sees\n%s", page)
	}
}

func TestNoticesPage(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		var by shop.Actor
		e := kitchenSite(t, h, &by)
		eightDine(t, h) // leaves confirmations that wait to be sent
		if got := ask(e, http.MethodGet, "/owner/notices"); got.Code != http.StatusSeeOther {
			t.Errorf("a visitor: %d", got.Code)
		}
		by = jun
		if got := ask(e, http.MethodGet, "/owner/notices"); got.Code != http.StatusForbidden {
			t.Errorf("the kitchen: %d", got.Code)
		}
		by = storetest.Odile
		page := ask(e, http.MethodGet, "/owner/notices").Body.String()
		m := regexp.MustCompile(`/owner/notices/(\d+)/now`).FindStringSubmatch(page)
		if m == nil || !strings.Contains(page, "booking K39") || !strings.Contains(page, "Everything due has gone out.") {
			t.Fatalf("the page shows\n%s", page)
		}
		if got := ask(e, http.MethodPost, "/owner/notices/"+m[1]+"/now"); got.Code != http.StatusSeeOther {
			t.Errorf("try now: %d", got.Code)
		}
		got := ask(e, http.MethodPost, "/owner/notices/"+m[1]+"/came-back")
		if got.Code != http.StatusConflict || !strings.Contains(got.Body.String(), "cannot become") {
			t.Errorf("what has not left cannot come back: %d\n%s", got.Code, got.Body)
		}
		for _, id := range []string{"x", "99999"} {
			if got := ask(e, http.MethodPost, "/owner/notices/"+id+"/now"); got.Code != http.StatusNotFound {
				t.Errorf("message %s: %d", id, got.Code)
			}
		}
	})
}
