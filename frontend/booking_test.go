package frontend

import (
	"context"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"github.com/labstack/echo/v4"

	"flitchbook/api/shop"
	"flitchbook/api/store/storetest"
)

// People, prices and days are the invented shop's; sums are worked by hand from its house
// rules: R1 prices, R2 deposits, R3 holds, R4 leaving, R7 vouchers, R9 waiting, R12 needs.

// street is the shop as its customers see it, with the demo's till.
func street(t *testing.T) *office {
	t.Helper()
	h := storetest.SQLite(t)
	o := &office{House: h, t: t, e: echo.New(), who: shop.Customer("visitor")}
	site, err := NewSite(h.Store, Config{})
	o.must(err)
	site.Demo = &Demo{Moments: func() []DemoMoment { return nil }}
	o.e.HTTPErrorHandler = func(err error, c echo.Context) {
		if err := site.Fail(c, err); err != nil {
			t.Error(err)
		}
	}
	site.Routes(o.e)
	o.Go("2026-10-05 09:00")
	o.bacon("B5", "2026-11-07 14:00", 8)
	o.bacon("B7", "2026-11-14 15:30", 0)
	o.Go("2026-10-20 20:10")
	return o
}

// post sends a form and returns the answer itself.
func (o *office) post(path string, v url.Values) *httptest.ResponseRecorder {
	o.t.Helper()
	r := httptest.NewRequest(http.MethodPost, path, strings.NewReader(v.Encode()))
	r.Header.Set(echo.HeaderContentType, echo.MIMEApplicationForm)
	w := httptest.NewRecorder()
	o.e.ServeHTTP(w, r)
	return w
}

// seats is a whole booking form for so many people, the first of them the payer.
func seats(n, name, once string) url.Values {
	first, _, _ := strings.Cut(strings.ToLower(name), " ")
	return url.Values{"seats": {n}, "rows": {n}, "had_second": {"0"}, "do": {"book"}, "once": {once}, "name": {name}, "me": {"yes"},
		"email": {first + "@post.example.test"}, "p1_needs": {"none"}, "p1_pick1": {"PB"}, "p2_name": {"Ansel"}, "p2_needs": {"not told"}}
}

// booked books at a class and returns the private address.
func (o *office) booked(class string, v url.Values) string {
	o.t.Helper()
	w := o.post("/classes/"+class+"/book", v)
	to := w.Header().Get("Location")
	if w.Code != http.StatusSeeOther || !strings.HasPrefix(to, "/b/") || !strings.HasSuffix(to, "/pay") {
		o.t.Fatalf("booking: %d to %q\n%s", w.Code, to, w.Body)
	}
	return strings.TrimSuffix(to, "/pay")
}

// paid pays what the till asks.
func (o *office) paid(b string) {
	o.t.Helper()
	till := o.has(b+"/till", url.Values{"once": {"t" + b}}, 200, "No real money moves")
	w := o.post(b+"/pay", url.Values{"once": {"p" + b}, "cents": {between(till, `name="cents" value="`, `"`)}})
	if w.Code != http.StatusSeeOther || w.Header().Get("Location") != b {
		o.t.Fatalf("paying: %d to %q\n%s", w.Code, w.Header().Get("Location"), w.Body)
	}
}

// M1: Tue Oct 20, 20:10 Nerys sees 2 seats left in B5 at $105.00, ready about Sat Nov 21,
// books 2 and pays $210.00; B5 then offers the waiting list.
func TestNerysBooks(t *testing.T) {
	o := street(t)
	o.has("/", nil, 200, "2 seats left", "$105.00", "ready about <strong>Sat Nov 21", "Last class whose bacon is ready before then", "Sat Nov 14, 15:30", "/calendar/public.ics", "/vouchers")
	o.has("/classes/B5", nil, 200, "2 seats left", "about Sat Nov 21", "application/ld+json", `"startDate":"2026-11-07T14:00:00-06:00"`, "13 to 7 days before", "only inspected meat", "not cooked", "poisonous")
	o.has("/classes/B5/book", nil, 200, "Seats", "$105.00 each")
	o.has("/classes/B5/book?seats=2", nil, 200, "Person 2", "Choose at the table", "$210.00", "held for 20 minutes")
	b := o.booked("B5", seats("2", "Nerys O.", "n1"))
	o.has(b+"/pay", nil, 200, "until <strong>20:30</strong>", "$210.00")
	o.has("/classes/B5", nil, 200, "being held, until 20:30", "Join the waiting list")
	o.paid(b)
	o.has(b, nil, 200, "You are booked", "$210.00", "about Sat Nov 21", "1 answer about food", "class.ics", "not told yet")
	o.has("/classes/B5", nil, 200, "full: waiting list", "Sat Nov 14, 15:30")
	o.has(b+"/pay", nil, http.StatusSeeOther)
}

// What was typed stays on the page whatever the shop says no to, and nothing is taken.
func TestBookingKeepsWhatWasTyped(t *testing.T) {
	o := street(t)
	for _, tc := range []struct {
		set  url.Values
		says string
	}{
		{url.Values{"email": {"nerys at home"}}, "Please write an address such as name@example.org."},
		{url.Values{"email": {""}}, "Please write your e-mail address"},
		{url.Values{"name": {""}}, "Who pays?"},
		{url.Values{"seats": {"0"}}, "Choose at least one seat."},
		{url.Values{"seats": {"two"}}, "as a whole number"},
		{url.Values{"seats": {"1,5"}}, "as a whole number"},
		{url.Values{"seats": {"-1"}}, "as a whole number"},
		{url.Values{"seats": {"41"}}, "This class has 10 seats in all"},
		{url.Values{"seats": {"2"}, "watch": {"3"}, "rows": {"5"}}, "At most one watching seat"},
		{url.Values{"p2_age": {"9"}}, "people of 10 and over"},
		{url.Values{"p2_age": {"nine"}}, "age in whole years"},
		{url.Values{"p1_needs": {"none"}, "p1_need": {"milk"}}, "Which is it?"},
		{url.Values{"p1_needs": {"list"}}, "Please tick what it is"},
		{url.Values{"p1_needs": {"list"}, "p1_severe": {"other"}}, "Please write what it is."},
		{url.Values{"p1_pick1": {"ZZ"}}, "not on the table"},
		{url.Values{"p2_email": {"x\r\nBcc: y@example.test"}}, "Please write an address"},
		{url.Values{"seats": {"3"}}, "You changed the numbers"},
	} {
		v := seats("2", "Nerys O.", "k")
		v.Set("note", "a stool <please>")
		for k, list := range tc.set {
			v[k] = list
		}
		body := o.has("/classes/B5/book", v, 422, tc.says, "a stool &lt;please&gt;", `value="Ansel"`)
		if typed := v.Get("email"); typed != "" && !strings.Contains(body, `value="`+typed+`"`) {
			t.Errorf("%v: the address typed is gone", tc.set)
		}
		if !strings.Contains(body, `name="once" value="k"`) {
			t.Errorf("%v: the token of the press is gone", tc.set)
		}
	}
	o.has("/classes/B5", nil, 200, "2 seats left")
	// A browser sends the fields left empty too: corrected, the same press goes through.
	for _, second := range []string{"", "0", "1"} {
		v := seats("2", "", "again"+second)
		v.Set("watch", "")
		v.Set("second", second)
		v.Set("had_second", between(o.has("/classes/B5/book?seats=2&second="+second, nil, 200), `name="had_second" value="`, `"`))
		body := o.has("/classes/B5/book", v, 422, "Who pays?")
		if got, had := between(body, `name="had_second" value="`, `"`), v.Get("had_second"); got != had {
			t.Errorf("second slabs %q: the page had room for %q, after a mistake for %q", second, had, got)
		}
	}
	more := seats("2", "Nerys O.", "k")
	more.Set("do", "count")
	more.Set("seats", "3")
	o.has("/classes/B5/book", more, 200, "Person 3", `value="Ansel"`, `value="Nerys O."`)
}

// A double press counts once; the same token with other answers is not quietly swallowed.
func TestOnePressOneBooking(t *testing.T) {
	o := street(t)
	first := o.booked("B7", seats("2", "Nerys O.", "same"))
	if again := o.booked("B7", seats("2", "Nerys O.", "same")); again != first {
		t.Errorf("a second press made another booking: %s and %s", first, again)
	}
	o.has("/classes/B7", nil, 200, "8 seats left")
	other := seats("1", "Nerys O.", "same")
	o.has("/classes/B7/book", other, 409, "pressed this once already", `value="Nerys O."`)
	o.has("/classes/B7", nil, 200, "8 seats left")
	o.paid(first)
	till := url.Values{"once": {"p" + first}, "cents": {"21000"}}
	if w := o.post(first+"/pay", till); w.Code != http.StatusSeeOther {
		t.Errorf("a second press at the till: %d", w.Code)
	}
	v, err := o.MyBooking(o.Ctx, strings.TrimPrefix(first, "/b/"))
	o.must(err)
	if v.Paid != 210_00 || v.Owes != 0 {
		t.Errorf("paid %s, owes %s after two presses", v.Paid, v.Owes)
	}
}

// Two people on the last two seats: the second keeps everything typed, reads until when
// they are held, never "full", and joins the waiting list with the same form.
func TestSecondTabIsTold(t *testing.T) {
	o := street(t)
	o.booked("B5", seats("2", "Nerys O.", "n"))
	late := seats("2", "Bo L.", "b")
	body := o.has("/classes/B5/book", late, 409, "being held, until 20:30", "Join the waiting list", `value="Bo L."`, `value="bo@post.example.test"`)
	if strings.Contains(body, "class is full") {
		t.Error("held seats are called full")
	}
	o.has("/classes/B5/wait", late, 200, "You are first in line", "2 seats")
	o.has("/classes/B5/wait", seats("2", "Third T.", "t"), 200, "1 party stands before you")
	o.has("/classes/B7/wait", seats("1", "Bo L.", "c"), 409, "There is room for you", `value="Bo L."`)
}

// R3: a hold that ended is told plainly, and money sent after it comes back in full, the
// party first on the list.
func TestPaidTooLate(t *testing.T) {
	o := street(t)
	b := o.booked("B5", seats("2", "Nerys O.", "n"))
	o.Go("2026-10-20 20:31")
	o.must(o.RunDue(o.Ctx))
	o.has(b+"/pay", nil, 200, "time to pay has run out", "Nothing was taken", "/classes/B5")
	o.has(b, nil, 200, "These seats were let go")
	w := o.post(b+"/pay", url.Values{"once": {"late"}, "cents": {"21000"}})
	to := w.Header().Get("Location")
	if w.Code != http.StatusSeeOther || to == b {
		t.Fatalf("%d to %q", w.Code, to)
	}
	o.has(to, nil, 200, "There are seats for you", "$210.00 together") // free again, so offered at once
}

// R3: who has come to the till keeps the seats ten minutes more.
func TestTillKeepsSeats(t *testing.T) {
	o := street(t)
	b := o.booked("B5", seats("2", "Nerys O.", "n"))
	till := o.has(b+"/till", url.Values{"once": {"x"}}, 200, "until <strong>20:40</strong>", "$210.00")
	o.Go("2026-10-20 20:35")
	o.must(o.RunDue(o.Ctx))
	w := o.post(b+"/pay", url.Values{"once": {"y"}, "cents": {between(till, `name="cents" value="`, `"`)}})
	if w.Header().Get("Location") != b {
		t.Fatalf("%d to %q", w.Code, w.Header().Get("Location"))
	}
	o.has(b, nil, 200, "You are booked")
}

// A deposit of 40 % from five seats (R2): 6 × $105.00 = $630.00, now $252.00; but B7 lies
// 25 days off, so the rest is due 14 days before, Sat Oct 31.
func TestDeposit(t *testing.T) {
	o := street(t)
	o.has("/classes/B7/book?seats=6", nil, 200, "$630.00", "Due now <strong>$252.00</strong>", "by Sat Oct 31")
	b := o.booked("B7", seats("6", "Brigid M.", "d"))
	o.has(b+"/pay", nil, 200, "$252.00", "Pay everything now, $630.00")
	o.paid(b)
	o.has(b, nil, 200, "$378.00 still to pay, by Sat Oct 31", "4 names")
	o.paid(b)
	o.has(b, nil, 200, "$630.00")
}

// S-13: a seat voucher bought before the price rise covers a seat at $105.00 whole.
func TestVoucherPays(t *testing.T) {
	o := street(t)
	o.Go("2026-10-12 10:00")
	gift := url.Values{"kind": {"seat"}, "class_kind": {"bacon"}, "name": {"Ulla F."}, "email": {"ulla@post.example.test"}, "receiver": {"Father"},
		"receiver_email": {"father@post.example.test"}, "send_on": {"2026-11-25"}, "once": {"v"}}
	card := o.post("/vouchers", gift)
	if card.Code != http.StatusSeeOther {
		t.Fatalf("%d\n%s", card.Code, card.Body)
	}
	page := o.has(card.Header().Get("Location"), nil, 200, "One seat: Bacon-curing class", "Ulla F.", "Oct 12, 2031")
	if strings.Contains(page, "$") {
		t.Error("the card of a seat shows a price")
	}
	if again := o.post("/vouchers", gift); again.Header().Get("Location") != card.Header().Get("Location") {
		t.Error("a second press sold another voucher")
	}
	code := between(page, `<p class="code-line">`, "<")
	o.Go("2026-10-20 20:10")
	b := o.booked("B5", seats("1", "Father F.", "f"))
	o.has(b+"/till", url.Values{"do": {"codes"}, "codes": {"nonsense"}, "once": {"1"}}, 422, "We know no voucher", `value="nonsense"`)
	o.has(b+"/till", url.Values{"do": {"codes"}, "codes": {code}, "once": {"1"}}, 200, "one whole seat", "$105.00", "nothing to pay", code)
	o.has(b+"/till", url.Values{"codes": {code}, "once": {"2"}}, 200, "You are booked")
	for _, tc := range []struct{ field, typed, says string }{
		{"kind", "", "A seat, or a sum of money?"}, {"email", "ulla", "Please write an address"}, {"send_on", "2026-10-01", "That day has passed"},
		{"send_on", "soon", "Write the day"}, {"class_kind", "unicorn", "For which kind"},
	} {
		v := url.Values{}
		for k, list := range gift {
			v[k] = list
		}
		v.Set(tc.field, tc.typed)
		v.Set("once", "w")
		o.has("/vouchers", v, 422, tc.says, `value="Ulla F."`)
	}
}

// Nobody sees another's data by an address of their own, and the payer never what a
// friend answered about food.
func TestNobodyElsesData(t *testing.T) {
	o := street(t)
	v := seats("2", "Nerys O.", "n")
	v.Set("p2_needs", "list")
	v["p2_severe"] = []string{"mustard"}
	v.Set("p2_email", "ansel@post.example.test")
	nerys := o.booked("B7", v)
	o.paid(nerys)
	bo := o.booked("B7", seats("1", "Bo L.", "b"))
	o.paid(bo)

	mine := o.has(nerys, nil, 200, "Ansel", "food: told")
	for _, secret := range []string{"mustard", "Bo L.", "bo@post"} {
		if strings.Contains(mine, secret) {
			t.Errorf("Nerys's page shows %q", secret)
		}
	}
	nv, err := o.MyBooking(o.Ctx, strings.TrimPrefix(nerys, "/b/"))
	o.must(err)
	bv, err := o.MyBooking(o.Ctx, strings.TrimPrefix(bo, "/b/"))
	o.must(err)
	guest := o.has("/g/"+nv.People[1].Secret, nil, 200, "Ansel", "You have told us about food", "Nerys O. has booked for you")
	for _, secret := range []string{"$", "nerys@post", `value="mustard" checked`, nv.Secret} {
		if strings.Contains(guest, secret) {
			t.Errorf("the guest's page shows %q", secret)
		}
	}
	// Bo's number under Nerys's address opens nothing.
	stranger := nerys + "/people/" + between(o.has(bo, nil, 200), "/people/", `"`)
	o.has(stranger, url.Values{"name": {"Mallory"}}, 404)
	// A severe need of one takes the jar from the table of all, without a word why (R13).
	page := o.has("/g/"+bv.People[0].Secret, nil, 200, "not on the table that day")
	if strings.Contains(page, "severe:") && strings.Contains(page, "Ansel") {
		t.Error("Bo's page says who or why")
	}
	for _, path := range []string{nerys, nerys + "/pay", "/g/" + nv.People[1].Secret} {
		w := httptest.NewRecorder()
		o.e.ServeHTTP(w, httptest.NewRequest(http.MethodGet, path, nil))
		if h := w.Header(); !strings.Contains(h.Get("X-Robots-Tag"), "noindex") || w.Code == 200 && h.Get("Cache-Control") != "no-store" {
			t.Errorf("%s: %v", path[:3], h)
		}
	}
}

// A guest answers alone; leaving the food question as it is does not wipe the answer.
func TestGuestAnswers(t *testing.T) {
	o := street(t)
	b := o.booked("B7", seats("2", "Nerys O.", "n"))
	o.paid(b)
	v, err := o.MyBooking(o.Ctx, strings.TrimPrefix(b, "/b/"))
	o.must(err)
	g := "/g/" + v.People[1].Secret
	in := url.Values{"name": {"Ansel B."}, "needs": {"list"}, "need": {"wheat"}, "pick1": {"JT"}}
	o.has(g, in, 200, "You have told us")
	o.has(g, url.Values{"name": {"Ansel Berg"}, "needs": {""}, "pick1": {"day"}}, 200, "Ansel Berg")
	gp, err := o.GuestByID(o.Ctx, v.People[1].GuestID)
	o.must(err)
	if gp.NeedsState != shop.HasNeeds || len(gp.Needs) != 1 || gp.Needs[0].Allergen != "wheat" || gp.Picks[0].State != shop.OnTheDay {
		t.Errorf("the answers are %+v, picks %+v", gp.Needs, gp.Picks)
	}
	o.has(g, url.Values{"name": {"Ansel Berg"}, "needs": {"list"}, "pick1": {"day"}}, 422, "Please tick what it is", `value="Ansel Berg"`)
	o.Go("2026-11-14 16:00")
	o.has(g, nil, 200, "The class has begun")
}

// R4 on the page: 25 days before B7 all comes back; 10 days before half or a credit; the
// sum read is the sum given, or nothing happens.
func TestLeavingShowsTheMoneyFirst(t *testing.T) {
	o := street(t)
	b := o.booked("B7", seats("2", "Nerys O.", "n"))
	o.paid(b)
	page := o.has(b+"/leave", nil, 200, "goes: $105.00 back", "25 days from today")
	seat := between(page, `name="seat`, `"`)
	old := url.Values{"seat" + seat: {"money 10500"}, "once": {"l"}}
	o.Go("2026-11-04 10:00") // 10 days before
	o.has(b+"/leave", old, 409, "has changed since you looked", "goes: $52.50 back", "goes: $105.00 credit")
	o.has(b+"/leave", url.Values{"once": {"l"}}, 422, "changed")
	page = o.has(b+"/leave", nil, 200)
	var ids []string
	for rest := page; strings.Contains(rest, `name="seat`); {
		_, rest, _ = strings.Cut(rest, `name="seat`)
		id, _, _ := strings.Cut(rest, `"`)
		if len(ids) == 0 || ids[len(ids)-1] != id {
			ids = append(ids, id)
		}
	}
	if len(ids) != 2 {
		t.Fatalf("seats on the page: %v", ids)
	}
	go1 := url.Values{"seat" + ids[0]: {""}, "seat" + ids[1]: {"money 5250"}, "once": {"m"}}
	o.has(b+"/leave", go1, 200, "You are booked", "$157.50")
	o.post(b+"/leave", go1) // a second press
	v, err := o.MyBooking(o.Ctx, strings.TrimPrefix(b, "/b/"))
	o.must(err)
	if v.Places != 1 || v.Paid != 157_50 || v.Kept != 52_50 || v.Owes != 0 {
		t.Errorf("%d places, paid %s, kept %s, owes %s", v.Places, v.Paid, v.Kept, v.Owes)
	}
}

// R6: a move keeps the price; nearer than the rule it is refused with the reason.
func TestMovingOnThePage(t *testing.T) {
	o := street(t)
	b := o.booked("B7", seats("2", "Nerys O.", "n"))
	o.paid(b)
	page := o.has(b+"/move", nil, 200, "Sat Nov 7, 14:00", "same price")
	value := between(page, `name="to" value="`, `"`)
	o.has(b+"/move", url.Values{"once": {"m"}}, 422, "Please choose a date")
	o.has(b+"/move", url.Values{"once": {"m"}, "to": {"B5 1/2/3"}}, 409, "has changed since you looked")
	o.has(b+"/move", url.Values{"once": {"m"}, "to": {value}}, 200, "You are booked", "Sat Nov 7, 14:00")
	o.Go("2026-11-02 10:00") // 5 days before
	if strings.Contains(o.has(b, nil, 200), b+"/move") {
		t.Error("a move is offered that the rule forbids")
	}
	o.has(b+"/move", url.Values{"once": {"x"}, "to": {"B7"}}, 422, "A move is free until 7 days before")
}

// R5: called off by the shop, each choice shows its money: $210.00 back or 110 % as credit.
func TestCalledOffOnThePage(t *testing.T) {
	o := street(t)
	b := o.booked("B7", seats("2", "Nerys O.", "n"))
	o.paid(b)
	o.must(o.CallOff(o.Ctx, storetest.Odile, "B7", "the smoker is broken"))
	o.has(b, nil, 200, "This class does not take place", "Money back: $210.00", "A credit of $231.00", "Sat Nov 7")
	o.has(b+"/answer", url.Values{}, 422, "Please choose")
	o.has(b+"/answer", url.Values{"choice": {"credit"}}, 200, "It is settled")
	o.has(b+"/answer", url.Values{"choice": {"money"}}, 409, "answered already")
}

// Classes nobody may book, and addresses nobody has.
func TestClosedClasses(t *testing.T) {
	o := street(t)
	o.has("/classes/B99", nil, 404)
	o.has("/b/nobodysnobodysnobodysnobody", nil, 404)
	o.has("/g/nobodysnobodysnobodysnobody", nil, 404)
	_, err := o.AddClass(o.Ctx, storetest.Odile, shop.NewClass{Code: "P9", Kind: "bacon", StartsAt: o.At("2026-12-05 14:00"), MinSeats: -1, DemoSlabs: -1, Private: true})
	o.must(err)
	o.has("/classes/P9", nil, 404)
	o.Go("2026-11-07 14:00")
	o.has("/classes/B5", nil, 200, "over, or no longer open")
	o.has("/classes/B5/book", seats("1", "Late L.", "l"), 409, `value="Late L."`)
}

// Without a till the pages say how to pay, take no money, and yet take a voucher.
func TestWithoutATill(t *testing.T) {
	o := openOffice(t)
	o.Go("2026-10-05 09:00")
	o.bacon("B7", "2026-11-14 15:30", 0)
	v, err := o.SellVoucher(o.Ctx, storetest.Nadia, shop.NewVoucher{Kind: "seat", ClassKind: "bacon", BuyerName: "Ulla"}, shop.PaymentIn{Cents: 95_00, Method: "cash", Key: "c"})
	o.must(err)
	o.who = shop.Customer("visitor")
	b := o.booked("B7", seats("1", "Nerys O.", "n"))
	page := o.has(b+"/pay", nil, 200, "These pages take no card", "by telephone or by transfer, naming booking")
	if strings.Contains(page, "Go on to the till") || strings.Contains(page, "Demo till") {
		t.Error("a till is offered that does not exist")
	}
	o.has(b+"/pay", url.Values{"once": {"x"}, "cents": {"9500"}}, 409, "taken at the counter")
	o.has("/vouchers", url.Values{"kind": {"seat"}}, 409, "sold at the counter")
	o.has(b+"/till", url.Values{"once": {"y"}, "codes": {""}, "do": {"use"}}, 422, "Type the code")
	o.has(b+"/till", url.Values{"once": {"y"}, "codes": {v.Code}, "do": {"use"}}, 200, "You are booked")
}

// The confirmation goes out once, with the calendar entry.
func TestConfirmationIsDue(t *testing.T) {
	o := street(t)
	b := o.booked("B5", seats("2", "Nerys O.", "n"))
	o.paid(b)
	var got []shop.Notice
	_, err := o.Deliver(o.Ctx, func(_ context.Context, n shop.Notice, f shop.Facts) error {
		if n.Kind == shop.NoticeBooked && n.ToAddr == "nerys@post.example.test" {
			got = append(got, n)
			if f.Invite == nil || !strings.HasSuffix(f.Links.Booking, b) {
				t.Errorf("invitation %v, link %q", f.Invite, f.Links.Booking)
			}
		}
		return nil
	})
	o.must(err)
	if len(got) != 1 {
		t.Errorf("%d confirmations", len(got))
	}
}
