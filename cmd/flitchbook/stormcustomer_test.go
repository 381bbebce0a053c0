package main

import (
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"sync"
	"time"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// A record is every yes the program said, apart from its own books.
type record struct {
	sync.Mutex
	booked   map[int]string // number to who booked or waits; every number is given once
	cash     map[string]handed
	left     map[int]int // presses that let seats of a booking go
	seats    []int64     // seats let go
	moved    map[int]int
	offers   map[int]bool
	vouchers map[string]unit.Money // sold at the counter, by code
	pages    map[string]int        // the provider's checkout to the booking it is for, 0 for a voucher
	did      map[string]int
}

type handed struct {
	number int
	cents  unit.Money
}

func newRecord() record {
	return record{booked: map[int]string{}, cash: map[string]handed{}, left: map[int]int{}, moved: map[int]int{}, offers: map[int]bool{},
		vouchers: map[string]unit.Money{}, pages: map[string]int{}, did: map[string]int{}}
}

func (r *record) note(what string, f func()) {
	r.Lock()
	defer r.Unlock()
	r.did[what]++
	if f != nil {
		f()
	}
}

// A stormBooking is a booking as its payer's link shows it.
type stormBooking struct {
	Number  int               `json:"number"`
	Link    string            `json:"link"`
	State   shop.BookingState `json:"state"`
	Class   string            `json:"class"`
	Paid    unit.Money        `json:"paid"`
	Owes    unit.Money        `json:"owes"`
	DueNow  unit.Money        `json:"due_now"`
	People  []struct{ Seat int64 }
	visited bool // its payer has been on the provider's page
	parted  bool // somebody of it has left
}

func (b *stormBooking) secret() string { return b.Link[strings.LastIndex(b.Link, "/")+1:] }

// A customer does this and that at random, with a seed of their own, and remembers what
// they were told.
type customer struct {
	*storm
	n, presses int
	r          *rand.Rand
	classes    []string
	mine       []*stormBooking
	codes      []string // of vouchers and credits
}

func (c *customer) key(what string) string {
	c.presses++
	return fmt.Sprintf("%s/c%d/%d", what, c.n, c.presses)
}

func (c *customer) live(ctx context.Context) {
	for {
		select {
		case <-c.over:
			return
		case <-ctx.Done():
			return
		case <-time.After(time.Duration(c.r.IntN(60)) * time.Millisecond):
		}
		if err := c.act(ctx); err != nil {
			c.t.Errorf("customer %d: %v", c.n, err)
			return
		}
	}
}

func (c *customer) act(ctx context.Context) error {
	if len(c.mine) == 0 || c.r.IntN(100) < 18 {
		return c.book(ctx)
	}
	if c.r.IntN(100) < 6 {
		return c.present(ctx)
	}
	b := c.mine[c.r.IntN(len(c.mine))]
	if err := c.look(ctx, b); err != nil {
		return err
	}
	switch b.State {
	case shop.Held:
		switch n := c.r.IntN(100); {
		case n < 35:
			return c.payCounter(ctx, b)
		case n < 80:
			return c.payOnline(ctx, b)
		case n < 90:
			return c.leave(ctx, b)
		}
		return nil // walks away from the till
	case shop.Firm:
		switch n := c.r.IntN(100); {
		case n < 40:
			return c.leave(ctx, b)
		case n < 65:
			return c.move(ctx, b)
		case n < 90 && b.Owes > 0:
			return c.payOnline(ctx, b)
		}
		return c.payCounter(ctx, b)
	case shop.Offered:
		if c.r.IntN(3) > 0 {
			return c.takeOffer(ctx, b)
		}
		return c.payOnline(ctx, b)
	case shop.Waiting:
		if c.r.IntN(4) == 0 {
			return c.form(ctx, "stop waiting", "/b/"+b.secret()+"/letgo", nil)
		}
		return nil
	}
	c.mine = c.mine[:len(c.mine):len(c.mine)]
	for i, m := range c.mine {
		if m == b {
			c.mine = append(c.mine[:i:i], c.mine[i+1:]...)
			break
		}
	}
	return nil
}

// send asks and takes what a yes says into out.
func (c *customer) send(ctx context.Context, who, method, path, key, body string, out any) (bool, error) {
	r, err := c.ask(ctx, who, method, path, key, body)
	if err != nil {
		return false, err
	}
	switch r.status {
	case http.StatusOK:
		return true, json.Unmarshal(r.body, out)
	case http.StatusConflict, http.StatusUnprocessableEntity, http.StatusServiceUnavailable:
		c.record.note("told no", nil)
		return false, nil
	}
	return false, fmt.Errorf("%s %s: %d %s", method, path, r.status, r.body)
}

func (c *customer) look(ctx context.Context, b *stormBooking) error {
	if ok, err := c.send(ctx, "", http.MethodGet, "/api/v1/my-booking/"+b.secret(), "", "", b); err != nil || !ok {
		return fmt.Errorf("K%d cannot be looked at: %v", b.Number, err)
	}
	return nil
}

func (c *customer) book(ctx context.Context) error {
	if len(c.mine) > 3 {
		return nil
	}
	class, who := c.classes[c.r.IntN(len(c.classes))], fmt.Sprintf("c%dp%d", c.n, c.presses)
	body := bookBody(who, 1+c.r.IntN(6))
	var b stormBooking
	ok, err := c.send(ctx, "", http.MethodPost, "/api/v1/classes/"+class+"/bookings", c.key("book"), body, &b)
	what := "booked"
	if err == nil && !ok && c.r.IntN(2) == 0 { // full: told so
		what = "waiting"
		ok, err = c.send(ctx, "", http.MethodPost, "/api/v1/classes/"+class+"/waiting", c.key("wait"), body, &b)
	}
	if err != nil || !ok {
		return err
	}
	c.record.note(what, func() {
		if was, twice := c.record.booked[b.Number]; twice {
			c.t.Errorf("booking %d was given to %s and %s", b.Number, was, who)
		}
		c.record.booked[b.Number] = who
	})
	c.mine = append(c.mine, &b)
	return nil
}

// spend draws codes to bring along: some were spent before, which is refused.
func (c *customer) spend() []string {
	if len(c.codes) == 0 || c.r.IntN(2) == 0 {
		return nil
	}
	i := c.r.IntN(len(c.codes))
	code := c.codes[i]
	if c.r.IntN(3) > 0 {
		c.codes = append(c.codes[:i:i], c.codes[i+1:]...)
	}
	return []string{code}
}

func (c *customer) payCounter(ctx context.Context, b *stormBooking) error {
	cents := b.DueNow
	if c.r.IntN(3) == 0 {
		cents = b.Owes
	}
	if cents <= 0 {
		return nil
	}
	key := c.key("cash")
	var paid stormBooking
	ok, err := c.send(ctx, "nadia", http.MethodPost, fmt.Sprintf("/api/v1/bookings/%d/payments", b.Number), key, fmt.Sprintf(`{"amount":%q,"method":"cash"}`, cents), &paid)
	if err != nil || !ok {
		return err
	}
	c.record.note("paid at the counter", func() { c.record.cash[key] = handed{b.Number, cents} })
	return nil
}

var pastedCode = regexp.MustCompile(`c\d+(-[0-9a-z]{4}){4}`)

// payOnline goes to the provider's page, through the pages or the interface, with codes or
// without, and pays there or not.
func (c *customer) payOnline(ctx context.Context, b *stormBooking) error {
	codes := c.spend()
	var page string
	if len(codes) > 0 || c.r.IntN(4) == 0 {
		v := url.Values{"once": {c.key("press")}, "codes": {strings.Join(codes, " ")}}
		if c.r.IntN(3) == 0 {
			v.Set("all", "yes")
		}
		r, err := c.ask(ctx, "", http.MethodPost, "/b/"+b.secret()+"/till", "form ", v.Encode())
		if err != nil {
			return err
		}
		if pageID(r.to) == "" { // paid by codes alone, refused, or there is no page now
			c.record.note(fmt.Sprintf("till answers %d", r.status), nil)
			return nil
		}
		page = r.to
	} else {
		var out struct{ URL string }
		body := "{}"
		if c.r.IntN(3) == 0 {
			body = `{"all":true}`
		}
		ok, err := c.send(ctx, "", http.MethodPost, "/api/v1/my-booking/"+b.secret()+"/checkout", c.key("online"), body, &out)
		if err != nil || !ok {
			return err
		}
		page = out.URL
	}
	b.visited = true
	return c.onPage(ctx, page, b.Number, b)
}

// onPage is what somebody does on the provider's page.
func (c *customer) onPage(ctx context.Context, page string, number int, b *stormBooking) error {
	id := pageID(page)
	if id == "" {
		return fmt.Errorf("led to pay at %q", page)
	}
	c.record.note("page opened", func() {
		if was, again := c.record.pages[id]; again && was != number {
			c.t.Errorf("one page, %s, for K%d and K%d", id, was, number)
		}
		c.record.pages[id] = number
	})
	switch c.r.IntN(8) {
	case 0:
		return nil // closes the page
	case 1:
		if b != nil { // changes their mind here, and pays there all the same
			if err := c.look(ctx, b); err != nil {
				return err
			}
			if err := c.leave(ctx, b); err != nil {
				return err
			}
		}
	}
	home := c.town.pay(id)
	if home == "" {
		return nil // the page has ended
	}
	c.record.note("paid online", nil)
	if c.r.IntN(2) == 0 {
		return nil // closes the window before it leads back
	}
	to, err := url.Parse(home)
	if err != nil {
		return err
	}
	r, err := c.ask(ctx, "", http.MethodGet, to.Path, "form ", "")
	if err == nil && b == nil && strings.HasPrefix(r.to, "/vouchers/") {
		c.codes = append(c.codes, strings.TrimPrefix(r.to, "/vouchers/"))
	}
	return err
}

// present buys a voucher, at the counter or online.
func (c *customer) present(ctx context.Context) error {
	seat := c.r.IntN(2) == 0
	if c.r.IntN(2) == 0 {
		v := url.Values{"once": {c.key("present")}, "kind": {"money"}, "amount": {"70"}, "name": {"Giver"}, "email": {fmt.Sprintf("giver%d@post.example.test", c.n)}}
		if seat {
			v.Set("kind", "seat")
			v.Set("class_kind", "bacon")
		}
		r, err := c.ask(ctx, "", http.MethodPost, "/vouchers", "form ", v.Encode())
		if err != nil || pageID(r.to) == "" {
			return err
		}
		return c.onPage(ctx, r.to, 0, nil)
	}
	body, cents := `{"kind":"money","amount":"$70.00","buyer":"Giver","paid":"$70.00","method":"cash"}`, unit.Money(70_00)
	if seat { // R1: $95.00 before Oct 20
		body, cents = `{"kind":"seat","class_kind":"bacon","buyer":"Giver","paid":"$95.00","method":"cash"}`, 95_00
	}
	key := c.key("card")
	var sold struct{ Code string }
	ok, err := c.send(ctx, "nadia", http.MethodPost, "/api/v1/vouchers", key, body, &sold)
	if err != nil || !ok {
		return err
	}
	c.record.note("voucher at the counter", func() {
		if _, twice := c.record.vouchers[sold.Code]; twice {
			c.t.Errorf("voucher %s was sold twice", sold.Code)
		}
		c.record.vouchers[sold.Code], c.record.cash[key] = cents, handed{0, cents}
	})
	c.codes = append(c.codes, sold.Code)
	return nil
}

// leave lets one seat go or all, and holds what comes back against what was quoted.
func (c *customer) leave(ctx context.Context, b *stormBooking) error {
	if b.State != shop.Firm && b.State != shop.Held {
		return nil
	}
	path := "/api/v1/my-booking/" + b.secret() + "/leave"
	var q struct {
		Seats []struct {
			Seat          int64
			Money, Credit unit.Money
		}
	}
	if ok, err := c.send(ctx, "", http.MethodGet, path, "", "", &q); err != nil || !ok {
		return err
	}
	choice := []string{"money", "credit"}[c.r.IntN(2)]
	body := fmt.Sprintf(`{"choice":%q}`, choice)
	going := q.Seats
	if b.State == shop.Firm && len(q.Seats) > 1 && c.r.IntN(2) == 0 {
		going = q.Seats[len(q.Seats)-1:]
		body = fmt.Sprintf(`{"seats":[{"seat":%d,"choice":%q}]}`, going[0].Seat, choice)
	}
	whole, before, undisturbed := len(going) == len(q.Seats), b.Paid, b.State == shop.Firm && !b.visited && !b.parted
	var after stormBooking
	ok, err := c.send(ctx, "", http.MethodPost, path, c.key("leave"), body, &after)
	if err != nil || !ok {
		return err
	}
	b.parted = true
	c.record.note("left", func() {
		c.record.left[b.Number]++
		for _, s := range going {
			c.record.seats = append(c.record.seats, s.Seat)
		}
		if b.State == shop.Held {
			for _, p := range b.People {
				c.record.seats = append(c.record.seats, p.Seat)
			}
		}
	})
	if whole && after.State != shop.LetGo && b.State == shop.Firm {
		c.t.Errorf("K%d was let go and is %s", b.Number, after.State)
	}
	if undisturbed {
		var back unit.Money
		for _, s := range going {
			if choice == "credit" {
				back += s.Credit
			} else {
				back += s.Money
			}
		}
		if before-after.Paid != back {
			c.t.Errorf("K%d: %s was quoted for leaving with %s, %s came back of %s", b.Number, back, choice, before-after.Paid, before)
		}
	}
	if choice == "credit" {
		return c.askForCredit(ctx, b)
	}
	return nil
}

// askForCredit has the counter read out the code of a credit.
func (c *customer) askForCredit(ctx context.Context, b *stormBooking) error {
	r, err := c.ask(ctx, "nadia", http.MethodGet, fmt.Sprintf("/staff/bookings/%d", b.Number), "form ", "")
	if err != nil {
		return err
	}
	if found := pastedCode.FindAllString(string(r.body), -1); len(found) > 0 {
		c.codes = append(c.codes, found[len(found)-1])
		c.record.note("credit in hand", nil)
	}
	return nil
}

func (c *customer) move(ctx context.Context, b *stormBooking) error {
	b.parted = true // what it is worth may have changed
	var after stormBooking
	to := c.classes[c.r.IntN(len(c.classes))]
	ok, err := c.send(ctx, "", http.MethodPost, "/api/v1/my-booking/"+b.secret()+"/move", c.key("move"), fmt.Sprintf(`{"to":%q}`, to), &after)
	if err != nil || !ok {
		return err
	}
	c.record.note("moved", func() { c.record.moved[b.Number]++ })
	if after.Class != to {
		c.t.Errorf("K%d moved to %s and is in %s", b.Number, to, after.Class)
	}
	return nil
}

func (c *customer) takeOffer(ctx context.Context, b *stormBooking) error {
	var after stormBooking
	ok, err := c.send(ctx, "", http.MethodPost, "/api/v1/my-booking/"+b.secret()+"/offer", "", "", &after)
	if err != nil || !ok {
		return err
	}
	c.record.note("offer taken", func() { c.record.offers[b.Number] = true })
	return nil
}

// form presses a button of a page.
func (c *customer) form(ctx context.Context, what, path string, v url.Values) error {
	r, err := c.ask(ctx, "", http.MethodPost, path, "form ", v.Encode())
	if err == nil && r.status == http.StatusSeeOther {
		c.record.note(what, nil)
	}
	return err
}
