package frontend

import (
	"fmt"
	"net/http"
	"regexp"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
)

var counterBookPages = map[string]Page{
	"counter_book": {Shop, CounterBookPage{}},
}

// CounterBookPage books somebody who stands at the counter or rings: a name is enough.
type CounterBookPage struct {
	Layout
	Form   Form
	Class  store.ClassPage
	Seats  []Choice
	Watch  []Choice // nil: no watching seats
	Second []Choice // nil: no slabs
	Queue  bool     // the party may be put on the waiting list
	Hours  int      // the seats are held
}

func (s *Site) counterBookRoutes(e *echo.Echo) {
	staff := api.Need(shop.Staff)
	e.GET("/staff/classes/:code/book", func(c echo.Context) error { return s.showCounterBook(c, http.StatusOK, Form{}) }, staff)
	e.POST("/staff/classes/:code/book", s.counterBook, staff)
}

func (s *Site) showCounterBook(c echo.Context, status int, f Form) error {
	cl, err := s.Store.AnyClass(c.Request().Context(), c.Param("code"))
	if err != nil {
		return err
	}
	f.Once = s.once()
	f.Order = []string{"name", "phone", "email", "seats", "watch", "second", "names", "note"}
	p := CounterBookPage{Layout: s.Layout(c, "Book "+cl.Code), Form: f, Class: *cl, Hours: s.Store.Rules.HoldCounter, Queue: cl.Left < cl.Seats}
	most := min(max(cl.Left, 6), cl.Seats, shop.MostPeople)
	for i := range most {
		p.Seats = append(p.Seats, Choice{Value: strconv.Itoa(i + 1), Label: strconv.Itoa(i + 1)})
	}
	few := func(most int) (out []Choice) {
		for i := range most + 1 {
			out = append(out, Choice{Value: strconv.Itoa(i), Label: strconv.Itoa(i)})
		}
		return out
	}
	if cl.WatchAge > 0 {
		p.Watch = few(min(most, 6))
	}
	if cl.Slabs && cl.SecondPrice > 0 {
		p.Second = few(min(most, 6))
	}
	return s.Render(c, status, "counter_book", p)
}

// Live reckons the total ahead while the form is filled, where seats have prices.
func (p CounterBookPage) Live() bool { return p.Class.Flat == 0 && p.Class.Price > 0 }

// Cents is a price for the live total.
func (CounterBookPage) Cents(m interface{ String() string }) string {
	return "cents=" + strings.NewReplacer("$", "", ".", "").Replace(m.String())
}

func (s *Site) counterBook(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	ctx, by, v := c.Request().Context(), api.Actor(c), f.Values
	n := shop.NewBooking{Class: c.Param("code"), Counter: true, PayerName: v.Get("name"), PayerEmail: v.Get("email"), PayerPhone: v.Get("phone"), Note: v.Get("note")}
	n.People = counterParty(&f)
	if !f.OK() {
		return s.showCounterBook(c, http.StatusUnprocessableEntity, f)
	}
	once := store.Once{Key: v.Get("once"), Fingerprint: fingerprint(v, n.Class)}
	book, said := s.Store.Book, ""
	if v.Get("do") == "wait" {
		book, said = s.Store.JoinWaiting, "On the waiting list. They are written to as soon as their seats come free."
	}
	b, err := book(ctx, by, n, once)
	if err != nil {
		if !refused(&f, err) {
			return err
		}
		personProblems(&f, "names")
		return s.showCounterBook(c, api.Status(err), f)
	}
	to := fmt.Sprintf("/staff/bookings/%d", b.Number)
	if said == "" {
		said, to = b.Ref+" is held until "+b.HoldUntil.Show(s.Store.Loc)+".", to+"#pay"
	}
	s.say(c, said)
	return c.Redirect(http.StatusSeeOther, to)
}

var nameAndAge = regexp.MustCompile(`^(.*?)[\s,;(]*\b(\d{1,3})\)?$`)

// counterParty reads the party: so many seats, the payer on the first unless they stay
// away, the others by the list of names, an age behind a name.
func counterParty(f *Form) []shop.NewPerson {
	v := f.Values
	count := func(name string, least, most int) int {
		typed := trimmed(v, name)
		if typed == "" {
			return least
		}
		n, err := strconv.Atoi(typed)
		if err != nil || n < least || n > most {
			f.Fail(name, fmt.Sprintf("Choose a number from %d to %d.", least, most))
		}
		return n
	}
	seats, watch, second := count("seats", 1, shop.MostPeople), count("watch", 0, shop.MostPeople), count("second", 0, shop.MostPeople)
	if second > seats {
		f.Fail("second", "There are more second slabs than seats.")
	}
	if !f.OK() {
		return nil
	}
	people := make([]shop.NewPerson, seats+watch)
	for i := range people {
		if i >= seats {
			people[i].Seat = shop.WatchSeat
		} else {
			people[i].Second = i < second
		}
	}
	at := 0
	if trimmed(v, "away") == "" {
		people[0].Payer, at = true, 1
	}
	for line := range strings.Lines(v.Get("names")) {
		name, age := strings.TrimSpace(line), 0
		if name == "" {
			continue
		}
		if m := nameAndAge.FindStringSubmatch(name); m != nil {
			name = m[1]
			age, _ = strconv.Atoi(m[2])
		}
		if at >= len(people) {
			f.Fail("names", "There are more names than seats.")
			return nil
		}
		people[at].Name, people[at].Age = name, age
		at++
	}
	return people
}

var personField = regexp.MustCompile(`^p(\d+)_`)

// personProblems moves what is wrong with one person of a party to the field their names
// are typed in.
func personProblems(f *Form, to string) {
	for name, text := range f.Errors {
		m := personField.FindStringSubmatch(name)
		if m == nil && name != "people" {
			continue
		}
		delete(f.Errors, name)
		if m != nil {
			text = "Person " + m[1] + ": " + text
		}
		f.Fail(to, text)
	}
}
