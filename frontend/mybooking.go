package frontend

import (
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
)

var myBookingPages = map[string]Page{
	"my_booking": {Public, MyBookingPage{}},
}

// MyBookingPage is a booking as its payer sees it. It never holds what anybody answered
// about food, only who has answered.
type MyBookingPage struct {
	Layout
	Booking  store.BookingView
	About    store.ClassPage
	People   []MyPerson
	Form     Form // of the answer to a class called off or moved
	Fetch    Form
	Left     int    // seconds the seats are still held
	Until    string // the hold, the offer or the answer ends
	Missing  []string
	Told     int        // people who have answered about food
	Cure     []MyPerson // missed the class, and may still choose their slab's spice
	CureTill string
	Stands   bool // firm and ahead
	Base     string
	Dates    []Choice // other dates, for an answer
	MayMove  bool
	Answers  []Choice
	Wholes   []Choice
	HasSlabs bool
}

// MyPerson is one person of the party with the form to name them.
type MyPerson struct {
	store.PersonView
	N      int
	Form   Form
	Open   bool // the form has something to correct
	Spices []string
}

func (s *Site) myBookingRoutes(e *echo.Echo) {
	e.GET("/b/:secret", s.myBooking)
	e.POST("/b/:secret/people/:guest", s.namePerson)
	e.POST("/b/:secret/collector", s.setCollector)
	e.POST("/b/:secret/take", s.acceptOffer)
	e.POST("/b/:secret/letgo", s.letGoUnpaid)
	e.POST("/b/:secret/answer", s.answerShop)
}

func (s *Site) myBooking(c echo.Context) error {
	b, err := s.privately(c)
	if err != nil {
		return err
	}
	return s.showMyBooking(c, http.StatusOK, b, MyBookingPage{})
}

// showMyBooking renders the page; p carries the forms that were refused.
func (s *Site) showMyBooking(c echo.Context, status int, b *store.BookingView, p MyBookingPage) error {
	about, err := s.Store.AnyClass(c.Request().Context(), b.Class.Code)
	if err != nil {
		return err
	}
	now := s.Store.Now()
	p.Layout, p.Booking, p.About, p.Base = s.layoutFor(c, "Booking "+b.Ref), *b, *about, s.Store.Config.BaseURL
	p.Stands = b.State == shop.Firm && b.Class.StartsAt > now
	p.HasSlabs = b.Slabs > 0
	p.Wholes = []Choice{{Value: "whole", Label: "Leave it whole"}, {Value: "sliced", Label: "Slice it for us"}}
	end := max(b.HoldUntil, b.OfferUntil)
	if b.State != shop.Held && b.State != shop.Offered {
		end = b.AnswerUntil
	}
	if end > 0 {
		p.Until, p.Left = s.until(end), max(0, int(end.Sub(now).Seconds()))
	}
	if p.Fetch.Values == nil {
		whole := "whole"
		if b.Sliced {
			whole = "sliced"
		}
		p.Fetch.Values = url.Values{"collector": {b.Collector}, "collector_mail": {b.CollectorMail}, "whole": {whole}}
	}
	p.Fetch.Prefix = "fetch-"
	if p.People == nil {
		p.People = s.myPeople(b, 0, Form{})
	}
	till := s.Store.MissedUntil(b.Class.Day)
	for _, m := range p.People {
		if m.Told {
			p.Told++
		}
		if m.State == shop.Missed && m.Slabs > 0 && now < till {
			p.Cure, p.CureTill = append(p.Cure, m), till.Show(s.Store.Loc)
		}
	}
	if p.Stands {
		p.Missing = missingWords(b)
		p.MayMove = int(b.Class.Day-s.Store.Today()) >= s.Store.Rules.ChooseDays || b.AnswerUntil > 0
	}
	if b.AnswerUntil > 0 {
		if err := s.answers(c, b, about, &p); err != nil {
			return err
		}
	}
	return s.Render(c, status, "my_booking", p)
}

// answers are the choices after the shop called off or moved the class, each with its
// money to the cent (R5).
func (s *Site) answers(c echo.Context, b *store.BookingView, about *store.ClassPage, p *MyBookingPage) error {
	if b.State == shop.Firm {
		p.Answers = append(p.Answers, Choice{Value: shop.AnswerAccept, Label: "The new date suits us"})
	}
	for _, choice := range []string{shop.AnswerMoney, shop.AnswerCredit} {
		q, err := s.Store.AnswerQuote(c.Request().Context(), payer(b), b.ID, choice, "")
		if err != nil {
			return err
		}
		given := Choice{Value: choice, Label: "Money back: " + q.Back.String(), Hint: "Vouchers and credits you paid with come back as they were."}
		if choice == shop.AnswerCredit {
			given.Label = "A credit of " + q.Credit.String()
		}
		p.Answers = append(p.Answers, given)
	}
	for _, o := range about.Others {
		if o.Left >= b.Places {
			p.Dates = append(p.Dates, Choice{Value: o.Code, Label: o.StartsAt.Show(s.Store.Loc)})
		}
	}
	if len(p.Dates) > 0 {
		p.Answers = append(p.Answers, Choice{Value: shop.AnswerMove, Label: "Another date, at no cost: choose below"})
	}
	return nil
}

func missingWords(b *store.BookingView) []string {
	names, needs, picks := b.Missing()
	var out []string
	if names > 0 {
		out = append(out, plural(names, "name", "names"))
	}
	if needs > 0 {
		out = append(out, plural(needs, "answer about food", "answers about food"))
	}
	if picks > 0 {
		out = append(out, plural(picks, "spice", "spices"))
	}
	return out
}

// myPeople lists the party; the form of one of them may be the one just refused.
func (s *Site) myPeople(b *store.BookingView, bad shop.GuestID, f Form) []MyPerson {
	out := make([]MyPerson, 0, len(b.People))
	for i, v := range b.People {
		m := MyPerson{PersonView: v, N: i + 1}
		if v.GuestID == bad {
			m.Form, m.Open = f, true
		} else {
			age := ""
			if v.Age > 0 {
				age = strconv.Itoa(v.Age)
			}
			m.Form.Values = url.Values{"name": {v.Name}, "email": {v.Email}, "age": {age}}
		}
		m.Form.Prefix = fmt.Sprintf("p%d-", i+1)
		for _, pick := range v.Picks {
			switch pick.State {
			case shop.PickMade:
				m.Spices = append(m.Spices, pick.Name)
			case shop.OnTheDay:
				m.Spices = append(m.Spices, "chosen at the table")
			case shop.PickReopened:
				m.Spices = append(m.Spices, "please choose again")
			default:
				m.Spices = append(m.Spices, "not chosen yet")
			}
		}
		out = append(out, m)
	}
	return out
}

// ofBooking finds a person of this very booking: the number in the address opens nobody
// else's.
func ofBooking(b *store.BookingView, id string) (store.PersonView, error) {
	for _, p := range b.People {
		if strconv.FormatInt(int64(p.GuestID), 10) == id {
			return p, nil
		}
	}
	return store.PersonView{}, shop.Missing("The person")
}

func (s *Site) namePerson(c echo.Context) error {
	b, err := s.privately(c)
	if err != nil {
		return err
	}
	person, err := ofBooking(b, c.Param("guest"))
	if err != nil {
		return err
	}
	f, err := formOf(c)
	if err != nil {
		return err
	}
	age := readAge(&f, "age")
	if f.OK() {
		ctx := c.Request().Context()
		var g *store.GuestPage
		if g, err = s.Store.GuestByID(ctx, person.GuestID); err != nil {
			return err
		}
		err = s.Store.RenameGuest(ctx, payer(b), person.GuestID, f.Values.Get("name"), strings.TrimSpace(f.Values.Get("email")), age, g.Wine)
		if err == nil {
			s.say(c, "Saved.")
			return c.Redirect(http.StatusSeeOther, "/b/"+b.Secret+"#people")
		}
		if !refused(&f, err) {
			return err
		}
	}
	status := http.StatusUnprocessableEntity
	if err != nil {
		status = api.Status(err)
	}
	return s.showMyBooking(c, status, b, MyBookingPage{People: s.myPeople(b, person.GuestID, f)})
}

func (s *Site) setCollector(c echo.Context) error {
	b, err := s.privately(c)
	if err != nil {
		return err
	}
	f, err := formOf(c)
	if err != nil {
		return err
	}
	err = s.Store.SetCollector(c.Request().Context(), payer(b), b.ID, f.Values.Get("collector"), f.Values.Get("collector_mail"), f.Values.Get("whole") == "sliced")
	if err != nil {
		if !refused(&f, err) {
			return err
		}
		if text := f.Errors["sliced"]; text != "" {
			delete(f.Errors, "sliced")
			f.Fail("whole", text)
		}
		return s.showMyBooking(c, api.Status(err), b, MyBookingPage{Fetch: f})
	}
	s.say(c, "Saved.")
	return c.Redirect(http.StatusSeeOther, "/b/"+b.Secret)
}

func (s *Site) acceptOffer(c echo.Context) error {
	b, err := s.privately(c)
	if err != nil {
		return err
	}
	if err := s.Store.TakeOffer(c.Request().Context(), payer(b), b.ID); err != nil {
		return s.refuseMyBooking(c, b, err)
	}
	return c.Redirect(http.StatusSeeOther, "/b/"+b.Secret+"/pay")
}

// refuseMyBooking shows the booking as it stands now, with the reason on top.
func (s *Site) refuseMyBooking(c echo.Context, b *store.BookingView, err error) error {
	var f Form
	if !refused(&f, err) {
		return err
	}
	now, rerr := s.Store.MyBooking(c.Request().Context(), b.Secret)
	if rerr != nil {
		return rerr
	}
	return s.showMyBooking(c, api.Status(err), now, MyBookingPage{Form: f})
}

// letGoUnpaid gives up seats nobody has paid for, a place on the waiting list or an offer.
func (s *Site) letGoUnpaid(c echo.Context) error {
	b, err := s.privately(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	switch b.State {
	case shop.Held:
		_, err = s.Store.LetGo(ctx, payer(b), b.ID, shop.LeaveIn{}, store.Once{})
	case shop.Waiting, shop.Offered:
		err = s.Store.LeaveWaiting(ctx, payer(b), b.ID)
	case shop.LetGo: // a second press
	default:
		return c.Redirect(http.StatusSeeOther, "/b/"+b.Secret+"/leave")
	}
	if err != nil {
		return s.refuseMyBooking(c, b, err)
	}
	return c.Redirect(http.StatusSeeOther, "/b/"+b.Secret)
}

func (s *Site) answerShop(c echo.Context) error {
	b, err := s.privately(c)
	if err != nil {
		return err
	}
	f, err := formOf(c)
	if err != nil {
		return err
	}
	_, err = s.Store.Answer(c.Request().Context(), payer(b), b.ID, f.Values.Get("choice"), f.Values.Get("to"))
	if err != nil {
		if !refused(&f, err) {
			return err
		}
		now, rerr := s.Store.MyBooking(c.Request().Context(), b.Secret)
		if rerr != nil {
			return rerr
		}
		return s.showMyBooking(c, api.Status(err), now, MyBookingPage{Form: f})
	}
	s.say(c, "Thank you, that is settled. It also stands in your mail.")
	return c.Redirect(http.StatusSeeOther, "/b/"+b.Secret)
}
