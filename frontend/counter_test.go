package frontend

import (
	"fmt"
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
)

// People, prices and days are the invented shop's; the sums beside them are worked by
// hand from its house rules (R1 prices, R2 deposits, R3 holds, R4 leaving, R5 called off,
// R6 moves).

// counter opens the shop with Nadia at the counter and the classes of its story.
func counter(t *testing.T) *workshop {
	t.Helper()
	w := emptyShop(t)
	w.Go("2026-09-01 10:00")
	w.class("B2", "bacon", "2026-10-17 13:00")
	w.class("B5", "bacon", "2026-11-07 13:00")
	w.class("D3", "pig", "2026-10-29 18:00")
	w.by = storetest.Nadia
	return w
}

func (w *workshop) class(code, kind, at string) {
	w.t.Helper()
	n := shop.NewClass{Code: code, Kind: kind, StartsAt: w.At(at), MinSeats: -1, DemoSlabs: -1}
	if _, err := w.AddClass(w.Ctx, storetest.Odile, n); err != nil {
		w.t.Fatal(err)
	}
	if err := w.Publish(w.Ctx, storetest.Odile, code); err != nil {
		w.t.Fatal(err)
	}
}

// bought is a party that has paid what is due at booking.
func (w *workshop) bought(class, name string, n int) *store.BookingView {
	w.t.Helper()
	first, _, _ := strings.Cut(strings.ToLower(name), " ")
	in := shop.NewBooking{Class: class, PayerName: name, PayerEmail: first + "@post.example.test", PayerPhone: "555 0142"}
	for i := range n {
		in.People = append(in.People, shop.NewPerson{Payer: i == 0})
	}
	b, err := w.Book(w.Ctx, shop.Customer(name), in, store.Once{})
	if err != nil {
		w.t.Fatal(err)
	}
	paid, err := w.Pay(w.Ctx, shop.Customer(name), b.ID, shop.PaymentIn{Cents: b.DueNow, Method: "till", Key: "till/" + b.Ref})
	if err != nil {
		w.t.Fatal(err)
	}
	return paid.Booking
}

func (w *workshop) booking(number int) *store.BookingView {
	w.t.Helper()
	b, err := w.BookingByNumber(w.Ctx, number)
	if err != nil {
		w.t.Fatal(err)
	}
	return b
}

// hidden is the value of a hidden field of a page.
func (w *workshop) hidden(path, name string) string {
	w.t.Helper()
	_, body := w.get(path)
	m := regexp.MustCompile(`name="` + name + `" value="([^"]*)"`).FindStringSubmatch(body)
	if m == nil {
		w.t.Fatalf("GET %s has no field %q", path, name)
	}
	return m[1]
}

func (w *workshop) lacks(path string, texts ...string) {
	w.t.Helper()
	_, body := w.get(path)
	for _, s := range texts {
		if strings.Contains(body, s) {
			w.t.Errorf("GET %s says %q", path, s)
		}
	}
}

// Booking at the counter: a name is enough, the seats are held three days (R3), the
// payment's button counts once however often it is pressed.
func TestCounterBooksAndTakesMoney(t *testing.T) {
	w := counter(t)
	w.Go("2026-10-20 12:00")
	w.says("/staff/classes", "B5", "Sat Nov 7, 13:00", "0 of 10 seats, 10 left", "/staff/classes/B5/kitlist", "/staff/classes/B5/sheet")
	w.says("/staff/classes/B5/sheet", "1 demo slab, not cut yet", ">Spice<")
	w.says("/staff/classes/B5/book", "$105.00 a seat", "Sat Nov 21")
	w.stopped(422, "/staff/classes/B5/book", []string{"Who pays?", "555 0142", "Eskil, 8", "10 and over"},
		"name", " ", "phone", "555 0142", "seats", "2", "names", "Eskil, 8", "do", "book", "once", "a")
	w.stopped(422, "/staff/classes/B5/book", []string{"write an address such as", `value="nerys"`, `value="Nerys P."`}, "name", "Nerys P.", "email", "nerys", "seats", "1", "do", "book", "once", "a")

	form := []string{"name", "Nerys P.", "phone", "555 0142", "seats", "2", "names", "Eskil, 12", "do", "book", "once", "b"}
	w.done("/staff/classes/B5/book", form...)
	w.done("/staff/classes/B5/book", form...) // the button pressed twice
	if n := len(w.list("B5")); n != 1 {
		t.Fatalf("two presses made %d bookings", n)
	}
	w.stopped(422, "/staff/classes/B5/book", []string{"sent once already"}, "name", "Somebody Else", "seats", "1", "do", "book", "once", "b")
	b := w.booking(1)
	if b.State != shop.Held || b.HoldUntil != w.At("2026-10-23 12:00") || b.People[1].Age != 12 || b.People[1].Name != "Eskil" {
		t.Fatalf("booked: %+v", b)
	}
	w.says("/staff/bookings/1", "Held until Fri Oct 23, 12:00", "$210.00", "Cash", "Card machine", "Transfer", "ASK: 2 not told", "none: ring them", "/b/"+b.Secret)
	w.says("/staff/bookings/K01", "Nerys P.")

	w.stopped(422, "/staff/bookings/1/pay", []string{"an amount of money", `value="two hundred"`}, "cents", "two hundred", "method", "cash", "once", "p0")
	w.stopped(422, "/staff/bookings/1/pay", []string{"$110.00 more is due now", `value="100"`}, "cents", "100", "method", "cash", "once", "p1")
	w.stopped(422, "/staff/bookings/1/pay", []string{"$90.00 more than is owed", `value="300"`}, "cents", "300", "method", "cash", "once", "p2")
	w.stopped(422, "/staff/bookings/1/pay", []string{"no voucher with the code", "abcd-efgh"}, "cents", "", "codes", "abcd-efgh", "method", "none", "once", "p3")
	w.done("/staff/bookings/1/pay", "cents", "$210.00", "method", "cash", "once", "p4")
	w.done("/staff/bookings/1/pay", "cents", "$210.00", "method", "cash", "once", "p4")
	if b = w.booking(1); b.State != shop.Firm || b.Paid != 210_00 || b.Owes != 0 {
		t.Fatalf("after two presses %s with %s paid", b.State, b.Paid)
	}
	w.says("/staff/bookings/1", "nothing owed", "$210.00", "cash", "Nadia")
	w.lacks("/staff/bookings/1", "Take payment")

	// Full: the same form puts the party on the waiting list.
	w.bought("B5", "Cordelia V.", 8)
	w.stopped(409, "/staff/classes/B5/book", []string{"full", "Put on the waiting list", `value="Gwilym T."`}, "name", "Gwilym T.", "seats", "1", "do", "book", "once", "c")
	w.done("/staff/classes/B5/book", "name", "Gwilym T.", "seats", "1", "do", "wait", "once", "d")
	w.says("/staff/classes", "full", "1 party waits")
	w.says("/staff/bookings/3", "First on the waiting list")
	w.done("/staff/bookings/3/letgo", "do", "list")
	w.says("/staff/bookings/3", "let go", "left the waiting list")
}

func (w *workshop) list(class string) []store.BookingView {
	w.t.Helper()
	l, err := w.DoorList(w.Ctx, class)
	if err != nil {
		w.t.Fatal(err)
	}
	return l.Parties
}

// A payment whose hold has ended meanwhile goes straight back, and the counter is told to
// hand it back (R3).
func TestCounterMoneyThatComesTooLate(t *testing.T) {
	w := counter(t)
	w.Go("2026-10-20 12:00")
	w.done("/staff/classes/B5/book", "name", "Nerys P.", "seats", "1", "do", "book", "once", "a")
	w.Go("2026-10-23 12:01")
	w.done("/staff/bookings/1/pay", "cents", "105", "method", "cash", "once", "p")
	b := w.booking(1)
	if b.State != shop.LetGo || b.Paid != 0 {
		t.Fatalf("%s with %s paid", b.State, b.Paid)
	}
	w.says("/staff/bookings/1", "hold ended", "-$105.00", "returned in full at once")
	w.says("/staff/bookings/2", "Nerys P.")
	if said := paidWords(b, &store.Paid{Booking: b, Returned: 105_00, Waiting: w.booking(2)}, 105_00); !strings.Contains(said, "Give back $105.00") || !strings.Contains(said, "K02") {
		t.Error(said)
	}
}

// Two of six drop out of a pig clinic 9 days before: one seat gives $82.50 or $165.00 as
// credit (6 × $165.00, half of $165.00; R4). The page says so before anything is pressed.
func TestCounterLetsGoWithTheMoneyShown(t *testing.T) {
	w := counter(t)
	b := w.bought("D3", "Cordelia V.", 6)
	if b.Paid != 396_00 { // 40 % of $990.00 (R2)
		t.Fatalf("deposit %s", b.Paid)
	}
	path := fmt.Sprintf("/staff/bookings/%d", b.Number)
	w.says(path, "$594.00", "owes $594.00", "Thu Oct 15")
	w.done(path+"/pay", "cents", "594", "method", "card", "once", "rest")
	w.Go("2026-10-20 12:00")
	w.says(path+"/letgo", "$82.50 back, or $165.00 credit", "$495.00 back, or $990.00 credit")
	if code, body := w.get(path + "/letgo?show=1"); code != 422 || !strings.Contains(body, "Tick at least one") {
		t.Errorf("nobody ticked: %d", code)
	}
	two := fmt.Sprintf("%s/letgo?show=1&seat=%d&seat=%d", path, b.People[4].SeatID, b.People[5].SeatID)
	w.says(two, "$165.00 back, or $330.00 credit", "9 days before")
	one := fmt.Sprintf("%s/letgo?show=1&seat=%d", path, b.People[5].SeatID)
	form := []string{"seat", fmt.Sprint(b.People[5].SeatID), "shown", w.hidden(one, "shown"), "choice", "money", "once", "l1"}
	w.done(path+"/letgo", form...)
	w.done(path+"/letgo", form...)
	if b = w.booking(b.Number); len(b.People) != 5 || b.Paid != 990_00-82_50 || b.Owes != 0 {
		t.Fatalf("%d people, %s paid, %s owed", len(b.People), b.Paid, b.Owes)
	}
	w.says("/staff/classes/D3", "all paid") // what the rule keeps is not owed twice
	w.says(path, "-$82.50", "$82.50", "Kept for seats let go")

	// Kinder than the rule needs a reason; what was typed stays.
	one = fmt.Sprintf("%s/letgo?show=1&seat=%d", path, b.People[4].SeatID)
	form = []string{"seat", fmt.Sprint(b.People[4].SeatID), "shown", w.hidden(one, "shown"), "choice", "money", "kinder", "yes", "once", "l2"}
	w.stopped(422, path+"/letgo", []string{"Please write why", "checked"}, form...)
	w.done(path+"/letgo", append(form, "reason", "a funeral")...)
	w.says(path, "-$165.00", "a funeral")

	// A day later the money shown before is stale: nothing happens.
	one = fmt.Sprintf("%s/letgo?show=1&seat=%d", path, b.People[3].SeatID)
	shown := w.hidden(one, "shown")
	w.Go("2026-10-23 09:00") // 6 days: nothing back unless sold again
	w.stopped(409, path+"/letgo", []string{"the money has changed", "$0.00 back; $165.00 credit if the seat is sold again"},
		"seat", fmt.Sprint(b.People[3].SeatID), "shown", shown, "choice", "money", "once", "l3")
	if n := len(w.booking(b.Number).People); n != 4 {
		t.Errorf("%d people after a refusal", n)
	}
}

// Moves: the same kind keeps the price paid, another kind costs the difference: $165.00 −
// $95.00 = $70.00 (R6). Under 7 days it is refused with the reason.
func TestCounterMovesWithTheMoneyShown(t *testing.T) {
	w := counter(t)
	b := w.bought("B2", "Marguerite O.", 1)
	path := fmt.Sprintf("/staff/bookings/%d", b.Number)
	w.says(path+"/move", "B5", "D3", "the price paid stays")
	w.says(path+"/move?to=D3", "$70.00 to pay", "$165.00")
	clinic := w.bought("D3", "Aurel C.", 1) // $165.00 − $95.00 = $70.00 the other way
	w.says(fmt.Sprintf("/staff/bookings/%d/move?to=B5", clinic.Number), "$70.00 back as credit")
	if c := w.booking(clinic.Number); c.Class.Code != "D3" || c.Paid != 165_00 {
		t.Errorf("looking at a move made it: in %s, %s paid", c.Class.Code, c.Paid)
	}
	w.Go("2026-10-08 10:00")
	w.says(path+"/move?to=B5", "Nothing to pay, nothing back", "Sat Nov 21")
	form := []string{"to", "B5", "shown", w.hidden(path+"/move?to=B5", "shown"), "once", "m"}
	w.stopped(409, path+"/move", []string{"the money has changed"}, "to", "D3", "shown", "x", "once", "m")
	w.done(path+"/move", form...)
	w.done(path+"/move", form...)
	if b = w.booking(b.Number); b.Class.Code != "B5" || b.Owes != 0 || b.Paid != 95_00 {
		t.Fatalf("in %s, %s owed", b.Class.Code, b.Owes)
	}
	late := w.bought("B2", "Oona K.", 1)
	w.Go("2026-10-13 10:00")
	if code, body := w.get(fmt.Sprintf("/staff/bookings/%d/move?to=B5", late.Number)); code != 422 || !strings.Contains(body, "leaving by the rule") {
		t.Errorf("a late move: %d", code)
	}
	if code, body := w.get(fmt.Sprintf("/staff/bookings/%d/letgo", late.Number)); code != 200 || !strings.Contains(body, "$0.00 back; $95.00 credit if the seat is sold again") {
		t.Errorf("leaving late: %d", code)
	}
}

// The door: who has not told stands as ASK, never as "none" (R12); what they told is shown
// to this class's staff alone (R14); under 18 at a clinic a guardian signs first (R11).
func TestDoorOfAClass(t *testing.T) {
	w := counter(t)
	b := w.bought("D3", "Petra M.", 3)
	path := fmt.Sprintf("/staff/bookings/%d", b.Number)
	person := func(i int) string { return fmt.Sprintf("%s/people/%d", path, b.People[i].GuestID) }
	w.says(path, "ASK: 3 not told")
	w.says(person(0), "Petra M.", "Not told yet")
	w.stopped(422, person(0)+"/needs", []string{"tick what it is"}, "state", "list")
	w.done(person(0)+"/needs", "state", "list", "need", "sesame", "severe", "sesame", "needs_words", "halva too")
	w.done(person(1)+"/needs", "state", "none")
	w.stopped(422, person(2)+"/name", []string{"people of 16 and over", `value="Linus"`, `value="15"`}, "name", "Linus", "age", "15")
	w.done(person(2)+"/name", "name", "Linus", "age", "17")
	page := w.says("/staff/classes/D3", "SESAME (HALVA TOO) – SEVERE", "eats everything", "ASK: 1 not told", "17 years", "guest 2", "Under 18")
	if sheet := w.says("/staff/classes/D3/sheet", "Linus", "no saw", "SESAME (HALVA TOO) – SEVERE"); strings.Contains(sheet, "demo slab") || strings.Contains(sheet, ">Spice<") {
		t.Error("the sheet of a clinic speaks of slabs")
	}
	if strings.Contains(page, ">Here<") {
		t.Error("people are checked in before the day of the class")
	}
	w.by = shop.Actor{Kind: "staff", ID: 4, Name: "Jun", Role: shop.Kitchen}
	for _, p := range []string{"/staff/classes/D3", path, person(0), "/staff/find", "/staff/vouchers"} {
		if code, _ := w.get(p); code != http.StatusForbidden {
			t.Errorf("the kitchen at %s: %d", p, code)
		}
	}
	w.by = shop.Actor{}
	if code, _ := w.get("/staff/classes/D3"); code != http.StatusSeeOther {
		t.Errorf("a visitor at the door list: %d", code)
	}
	w.by = storetest.Nadia
	w.stopped(409, fmt.Sprintf("/staff/classes/D3/seats/%d/came", b.People[0].SeatID), []string{"This class is on Thu Oct 29"})

	w.Go("2026-10-29 17:45")
	seat := func(i int, what string) string {
		return fmt.Sprintf("/staff/classes/D3/seats/%d/%s", b.People[i].SeatID, what)
	}
	w.says("/staff/classes/D3", "Here<", "Guardian signed<")
	w.lacks("/staff/classes/D3", "Missed<")
	w.stopped(409, seat(2, "came"), []string{"a guardian signs first"})
	w.done(seat(2, "signed"))
	for i := range 3 {
		if i != 1 {
			w.done(seat(i, "came"))
			w.done(seat(i, "came"))
		}
	}
	if code := w.post(fmt.Sprintf("/staff/classes/B5/seats/%d/came", b.People[1].SeatID)).Code; code != http.StatusNotFound {
		t.Errorf("somebody checked in at another class's door: %d", code)
	}
	w.Go("2026-10-29 18:20")
	w.says("/staff/classes/D3", "3 people, 2 here", "Missed<")
	w.done(seat(1, "missed"))
	if b = w.booking(b.Number); b.State != shop.Came {
		t.Errorf("the booking is %s", b.State)
	}
	w.stopped(409, "/staff/classes/D3/taught", []string{"cannot become"}) // nobody has said it goes ahead
	if code := w.post("/staff/classes/D3/goahead").Code; code != http.StatusForbidden {
		t.Errorf("the counter decides that a class goes ahead: %d", code)
	}
	w.by = storetest.Odile
	w.says("/staff/classes/D3", "8 are needed to go ahead")
	w.done("/staff/classes/D3/goahead")
	w.by = storetest.Nadia
	w.done("/staff/classes/D3/taught")
	w.says("/staff/classes/D3", "taught")
}

// Moving a class shows first who is touched; what was typed stays when it is refused; the
// door's page then stands at the new moment, and nobody moves a class that has begun.
func TestMoveAClass(t *testing.T) {
	w := counter(t)
	w.bought("B5", "Solveig A.", 1)
	if code, _ := w.get("/staff/classes/B5/move"); code != http.StatusForbidden {
		t.Errorf("the counter may move a class: %d", code)
	}
	w.by = storetest.Odile
	w.says("/staff/classes/B5/move", "1 party, 1 person", "may come at the new moment", "Silence is money back")
	w.stopped(422, "/staff/classes/B5/move", []string{"Write the moment as", "Please write why", `value="next week"`}, "starts", "next week", "reason", "")
	w.stopped(422, "/staff/classes/B5/move", []string{"That moment has passed", "the road is closed"}, "starts", "2026-08-01T13:00", "reason", "the road is closed")
	w.done("/staff/classes/B5/move", "starts", "2026-11-07T15:00", "reason", "the road is closed until two")
	w.says("/staff/classes/B5", "Sat Nov 7, 15:00")
	w.Go("2026-11-07 15:10")
	w.stopped(409, "/staff/classes/B5/move", []string{"has begun"}, "starts", "2026-11-08T15:00", "reason", "too late")
}

// Calling off shows first who is touched and what it gives back: two parties, $95.00 +
// $190.00 paid; credit is 110 % of the money: $209.00 for $190.00 (R5).
func TestCallOffShowsWhoIsTouched(t *testing.T) {
	w := counter(t)
	one, two := w.bought("B5", "Solveig A.", 1), w.bought("B5", "Gwilym T.", 2)
	if code, _ := w.get("/staff/classes/B5/calloff"); code != http.StatusForbidden {
		t.Errorf("the counter may call off: %d", code)
	}
	w.lacks("/staff/classes/B5", "Call off")
	w.by = storetest.Odile
	w.says("/staff/classes/B5/calloff", "2 parties, 3 people", "$285.00", "110 %", "Solveig A.", "Gwilym T.", "cannot be undone")
	w.stopped(422, "/staff/classes/B5/calloff", []string{"Please write why"}, "reason", "  ")
	if w.booking(one.Number).State != shop.Firm {
		t.Fatal("called off without a reason")
	}
	w.done("/staff/classes/B5/calloff", "reason", "The smoker is dead.")
	w.stopped(409, "/staff/classes/B5/calloff", []string{"The smoker is dead."}, "reason", "The smoker is dead.")
	w.by = storetest.Nadia
	w.says("/staff/classes/B5", "has yet to choose")
	path := fmt.Sprintf("/staff/bookings/%d", two.Number)
	w.says(path, "They still have to choose")
	w.says(path+"/answer", "$190.00 back", "$209.00 credit", "B2")
	w.stopped(422, path+"/answer", []string{"Please choose"}, "choice", "shrug")
	w.done(path+"/answer", "choice", "credit")
	w.says(path, "to credit", "-$190.00")
	w.stopped(409, path+"/answer", []string{"answered already"}, "choice", "money")
	path = fmt.Sprintf("/staff/bookings/%d", one.Number)
	w.done(path+"/answer", "choice", "move", "to", "B2")
	if b := w.booking(one.Number); b.Class.Code != "B2" || b.State != shop.Firm {
		t.Errorf("%s in %s", b.State, b.Class.Code)
	}
}

// One box: a whole tag leads to its slab, the rest is looked for.
func TestFind(t *testing.T) {
	w := newWorkshop(t)
	w.by = storetest.Nadia
	w.says("/staff/find", "Name, tag, end of a phone number")
	w.says("/staff/find?q=sol", "K14 Solveig A.", "B3-01", "/staff/slabs/B3-02", "/staff/bookings/14")
	for _, number := range []string{"K14", "k14", "14"} {
		w.says("/staff/find?q="+number, "1 booking for", "K14 Solveig A.")
	}
	w.class("B9", "bacon", "2026-12-12 13:00")
	for i, phone := range []string{"555 0142", "(555) 01-43", "555.01.44", "+1-555-0145"} {
		b, err := w.Book(w.Ctx, storetest.Nadia, shop.NewBooking{Class: "B9", Counter: true, PayerName: "Ring " + strconv.Itoa(i), PayerPhone: phone, People: []shop.NewPerson{{Payer: true}}}, store.Once{})
		if err != nil {
			t.Fatal(err)
		}
		for _, end := range []string{"014" + strconv.Itoa(2+i), "01-4" + strconv.Itoa(2+i), "555014" + strconv.Itoa(2+i)} {
			w.says("/staff/find?q="+end, "1 booking for", b.Ref+" Ring "+strconv.Itoa(i))
		}
	}
	w.says("/staff/find?q=0199", "Nothing answers to")
	w.says("/staff/find?q=B3-", "B3-02")
	w.says("/staff/find?q=eskil", "K14 Solveig A.", "With Eskil")
	w.says("/staff/find?q=nobody", "Nothing answers to")
	if code, body := w.get("/staff/find?q=x"); code != 422 || !strings.Contains(body, "at least two") || !strings.Contains(body, `value="x"`) {
		t.Errorf("one letter: %d", code)
	}
	if code, _ := w.get("/staff/find?q=b3-01"); code != http.StatusSeeOther {
		t.Errorf("a whole tag: %d", code)
	}
	w.says("/staff/bookings/14", "Solveig A.", "mustard &amp; honey", "B3-01")
	if code, _ := w.get("/staff/bookings/999"); code != http.StatusNotFound {
		t.Errorf("nobody's booking: %d", code)
	}
	if code, _ := w.get("/staff/bookings/14/people/999"); code != http.StatusNotFound {
		t.Errorf("nobody of this booking: %d", code)
	}
}

// Vouchers at the counter: a seat sold at $95.00 pays a seat at $105.00 (R7); the code
// stands in no address; one press sells one.
func TestVouchersAtTheCounter(t *testing.T) {
	w := counter(t)
	w.Go("2026-10-12 11:00")
	w.says("/staff/vouchers", "A seat: ", "$95.00", "A sum of money", "5 years")
	w.stopped(422, "/staff/vouchers", []string{"Who gives it?", "On which day", `value="dad@post.example.test"`}, "kind", "bacon/9500", "receiver_email", "dad@post.example.test", "method", "cash", "once", "v0")
	w.stopped(422, "/staff/vouchers", []string{"from $5.00 to $2000.00", `value="4"`}, "kind", "money", "amount", "4", "name", "Ulla", "method", "cash", "once", "v0")
	w.stopped(422, "/staff/vouchers", []string{"how it was paid"}, "kind", "bacon/9500", "name", "Ulla", "once", "v0")
	form := []string{"kind", "bacon/9500", "name", "Ulla B.", "receiver", "Dad", "method", "cash", "once", "v1"}
	w.done("/staff/vouchers", form...)
	w.done("/staff/vouchers", form...)
	v, err := w.VoucherByID(w.Ctx, 1)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.VoucherByID(w.Ctx, 2); err == nil {
		t.Error("two presses sold two vouchers")
	}
	w.says("/staff/vouchers/1", v.Code, "Ulla B.", "Oct 12, 2031", "all of it")
	w.stopped(422, "/staff/vouchers/find", []string{"no voucher with this code or name", "zzzz-zzzz"}, "q", "zzzz-zzzz")
	rec := w.post("/staff/vouchers/find", "q", strings.ToUpper(v.Code))
	if to := rec.Header().Get("Location"); to != "/staff/vouchers/1" {
		t.Errorf("found by code: %d to %q", rec.Code, to)
	}
	w.done("/staff/vouchers/find", "q", "ulla")

	w.Go("2026-10-20 12:00")
	w.stopped(422, "/staff/vouchers", []string{"This voucher costs $105.00", "bacon/10500"}, "kind", "bacon/9500", "name", "Ulla", "method", "cash", "once", "v2")
	w.done("/staff/classes/B5/book", "name", "Dad", "seats", "1", "do", "book", "once", "b")
	w.done("/staff/bookings/1/pay", "cents", "$105.00", "codes", v.Code, "method", "none", "once", "p")
	if b := w.booking(1); b.State != shop.Firm || b.Owes != 0 {
		t.Errorf("%s, owes %s", b.State, b.Owes)
	}
	w.says("/staff/bookings/1", "voucher ending in "+v.CodeEnd)
	w.lacks("/staff/bookings/1", v.Code)
	w.says("/staff/vouchers/1", "used")
}

// A private grazing evening of 24 heads at $48.00, $300.00 deposit, 21 at the final count:
// 21 × $48.00 − $300.00 = $708.00 (R2). The page says so before the count is settled.
func TestFinalCountAtTheCounter(t *testing.T) {
	w := counter(t)
	var kinds []shop.ClassKind
	w.db.Find(&kinds)
	kind := ""
	for _, k := range kinds {
		if p, err := w.KindPrices(w.Ctx); err == nil {
			for _, kp := range p {
				if kp.Code == k.Code && kp.Card.Price == 48_00 {
					kind = k.Code
				}
			}
		}
	}
	if kind == "" {
		t.Fatal("the shop has no kind at $48.00 a head")
	}
	n := shop.NewClass{Code: "P1", Kind: kind, StartsAt: w.At("2026-11-06 18:00"), Seats: 30, MinSeats: -1, DemoSlabs: -1, Private: true}
	if _, err := w.AddClass(w.Ctx, storetest.Odile, n); err != nil {
		t.Fatal(err)
	}
	if err := w.Publish(w.Ctx, storetest.Odile, "P1"); err != nil {
		t.Fatal(err)
	}
	w.says("/staff/classes", "private")
	w.done("/staff/classes/P1/book", "name", "Hedwig R.", "seats", "24", "do", "book", "once", "a")
	w.says("/staff/bookings/1", "$300.00", "as deposit")
	w.done("/staff/bookings/1/pay", "cents", "300", "method", "transfer", "once", "p")
	w.says("/staff/bookings/1?heads=21", "$1008.00 in all, $708.00 owed")
	if code, body := w.get("/staff/bookings/1?heads=20"); code != 422 || !strings.Contains(body, "from 21 to 24") {
		t.Errorf("20 of 24: %d", code)
	}
	if w.booking(1).Owes != 1152_00-300_00 {
		t.Error("looking at a count changed the booking")
	}
	w.done("/staff/bookings/1/count", "heads", "21")
	if b := w.booking(1); b.Owes != 708_00 || len(b.People) != 21 {
		t.Errorf("%d people, %s owed", len(b.People), b.Owes)
	}
}
