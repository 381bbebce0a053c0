package frontend

import (
	"fmt"
	"net/http"
	"slices"
	"strings"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/money"
	"flitchbook/planner/unit"
)

var leavePages = map[string]Page{
	"leave": {Public, LeavePage{}},
	"move":  {Public, MovePage{}},
}

// LeavePage shows what letting each seat go gives back, to the cent, before anything is
// pressed.
type LeavePage struct {
	Layout
	Booking store.BookingView
	Form    Form
	Seats   []LeaveSeat
	Whole   bool // one price for all: only the whole party can leave
	Credit  bool // a credit may come of it
	Days    int
	Change  []string
}

// LeaveSeat is one seat with what may be chosen for it.
type LeaveSeat struct {
	Field   string
	Label   string
	Choices []Choice
}

// MovePage offers other dates.
type MovePage struct {
	Layout
	Booking store.BookingView
	Form    Form
	Dates   []Choice
	Until   int // days before which a move is free
}

func (s *Site) leaveRoutes(e *echo.Echo) {
	e.GET("/b/:secret/leave", s.leaveForm)
	e.POST("/b/:secret/leave", s.leave)
	e.GET("/b/:secret/move", s.moveForm)
	e.POST("/b/:secret/move", s.move)
}

func (s *Site) leaveForm(c echo.Context) error {
	b, err := s.privately(c)
	if err != nil {
		return err
	}
	return s.showLeave(c, http.StatusOK, b, Form{})
}

func (s *Site) showLeave(c echo.Context, status int, b *store.BookingView, f Form) error {
	if b.State != shop.Firm && f.OK() {
		return c.Redirect(http.StatusSeeOther, "/b/"+b.Secret)
	}
	q, err := s.Store.LeaveQuote(c.Request().Context(), b.ID)
	if err != nil {
		return err
	}
	p := LeavePage{Layout: s.layoutFor(c, "Let seats go"), Booking: *b, Form: f, Whole: q.Whole, Change: changeWords(s.Store.Rules),
		Days: int(b.Class.Day - s.Store.Today())}
	p.Form.Once = s.once()
	if q.Whole {
		p.Seats = []LeaveSeat{{Field: "all", Label: "The whole party", Choices: leaveChoices(q.All)}}
	} else {
		for i, seat := range q.Seats {
			name := seat.Guest
			if name == "" {
				name = fmt.Sprintf("Person %d", i+1)
			}
			if seat.Kind == shop.WatchSeat {
				name += ", watching"
			}
			p.Seats = append(p.Seats, LeaveSeat{Field: fmt.Sprintf("seat%d", seat.Seat), Label: name, Choices: leaveChoices(seat.Leaving)})
		}
	}
	for _, seat := range q.Seats {
		p.Credit = p.Credit || seat.Tier != money.AllBack
	}
	return s.Render(c, status, "leave", p)
}

// leaveChoices are what one seat may do. The sum stands in the value, so that nobody gets
// another than the one they read.
func leaveChoices(l money.Leaving) []Choice {
	out := []Choice{{Value: "", Label: "stays"}}
	add := func(as string, cents unit.Money, text string) {
		out = append(out, Choice{Value: fmt.Sprintf("%s %d", as, cents), Label: text})
	}
	switch l.Tier {
	case money.AllBack:
		add("money", l.Money, "goes: "+l.Money.String()+" back")
	case money.Choose:
		add("money", l.Money, "goes: "+l.Money.String()+" back")
		add("credit", l.Credit, "goes: "+l.Credit.String()+" credit")
	default:
		add("sold", l.IfSold, "goes: $0.00 back; "+l.IfSold.String()+" credit if the seat is sold again")
	}
	return out
}

func (s *Site) leave(c echo.Context) error {
	b, err := s.privately(c)
	if err != nil {
		return err
	}
	f, err := formOf(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	q, err := s.Store.LeaveQuote(ctx, b.ID)
	if err != nil {
		return err
	}
	in := shop.LeaveIn{CreditName: f.Values.Get("credit_name"), CreditEmail: strings.TrimSpace(f.Values.Get("credit_email"))}
	offered := func(field string, l money.Leaving) (as string, going bool) {
		chosen := f.Values.Get(field)
		for _, choice := range leaveChoices(l) {
			if choice.Value == chosen {
				as, _, _ = strings.Cut(chosen, " ")
				return strings.Replace(as, "sold", "", 1), chosen != ""
			}
		}
		f.Fail(field, "What this seat gives back has changed since you looked. Please choose again.")
		return "", false
	}
	if q.Whole {
		if as, going := offered("all", q.All); going {
			in.Choice = as
			for _, seat := range q.Seats {
				in.Seats = append(in.Seats, shop.SeatLeave{Seat: seat.Seat, Choice: as})
			}
		}
	} else {
		for _, seat := range q.Seats {
			if as, going := offered(fmt.Sprintf("seat%d", seat.Seat), seat.Leaving); going {
				in.Seats = append(in.Seats, shop.SeatLeave{Seat: seat.Seat, Choice: as})
			}
		}
	}
	if len(q.Seats) > 0 && len(in.Seats) == 0 && f.OK() {
		f.Fail("", "Nobody goes yet: choose for at least one seat.")
		return s.showLeave(c, http.StatusUnprocessableEntity, b, f)
	}
	if !f.OK() {
		return s.showLeave(c, http.StatusConflict, b, f)
	}
	if len(q.Seats) == 0 { // a second press, or somebody else was faster
		return c.Redirect(http.StatusSeeOther, "/b/"+b.Secret)
	}
	_, err = s.Store.LetGo(ctx, payer(b), b.ID, in, store.Once{Key: f.Values.Get("once")})
	if err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.showLeave(c, api.Status(err), b, f)
	}
	s.say(c, plural(len(in.Seats), "seat is", "seats are")+" let go. What comes back stands in your mail.")
	return c.Redirect(http.StatusSeeOther, "/b/"+b.Secret)
}

func (s *Site) moveForm(c echo.Context) error {
	b, err := s.privately(c)
	if err != nil {
		return err
	}
	return s.showMove(c, http.StatusOK, b, Form{})
}

func (s *Site) showMove(c echo.Context, status int, b *store.BookingView, f Form) error {
	if b.State != shop.Firm && f.OK() {
		return c.Redirect(http.StatusSeeOther, "/b/"+b.Secret)
	}
	ctx := c.Request().Context()
	class, err := s.Store.AnyClass(ctx, b.Class.Code)
	if err != nil {
		return err
	}
	season, err := s.Store.SeasonPage(ctx)
	if err != nil {
		return err
	}
	p := MovePage{Layout: s.layoutFor(c, "Move to another date"), Booking: *b, Form: f, Until: s.Store.Rules.ChooseDays}
	p.Form.Once = s.once()
	if class.Private { // a party of its own moves by talking to the shop
		return s.Render(c, status, "move", p)
	}
	for _, o := range append(class.Others, season.Classes...) {
		if o.Left < b.Places || o.ID == b.Class.ID || slices.ContainsFunc(p.Dates, func(d Choice) bool { return strings.HasPrefix(d.Value, o.Code+" ") }) {
			continue
		}
		q, err := s.Store.MoveQuote(ctx, payer(b), b.ID, o.Code)
		if err != nil {
			if _, ok := shop.AsError(err); ok {
				continue // this party does not fit that class
			}
			return err
		}
		hint := moveWords(b, q)
		if o.ReadyAbout != 0 {
			hint += "; bacon ready about " + o.ReadyAbout.Show()
		}
		p.Dates = append(p.Dates, Choice{Value: moveValue(o.Code, q), Label: o.Title + ", " + o.StartsAt.Show(s.Store.Loc), Hint: hint})
	}
	return s.Render(c, status, "move", p)
}

// moveValue carries the money somebody read, so that they do not get another.
func moveValue(code string, q *store.MoneyQuote) string {
	return fmt.Sprintf("%s %d/%d/%d", code, q.Total, q.Owes, q.Credit)
}

func moveWords(b *store.BookingView, q *store.MoneyQuote) string {
	switch {
	case q.Owes > b.Owes:
		return (q.Owes - b.Owes).String() + " more to pay"
	case q.Credit > 0:
		return q.Credit.String() + " less, as a credit"
	case q.Total == b.Total:
		return "same price"
	}
	return "costs " + q.Total.String()
}

func (s *Site) move(c echo.Context) error {
	b, err := s.privately(c)
	if err != nil {
		return err
	}
	f, err := formOf(c)
	if err != nil {
		return err
	}
	to, _, _ := strings.Cut(f.Values.Get("to"), " ")
	if to == "" {
		f.Fail("to", "Please choose a date.")
		return s.showMove(c, http.StatusUnprocessableEntity, b, f)
	}
	if _, err := s.Store.ClassPage(c.Request().Context(), to); err != nil {
		f.Fail("to", "This date is not open.")
		return s.showMove(c, http.StatusUnprocessableEntity, b, f)
	}
	if q, err := s.Store.MoveQuote(c.Request().Context(), payer(b), b.ID, to); err == nil && b.Class.Code != to && moveValue(to, q) != f.Values.Get("to") {
		f.Fail("to", "The price of that date has changed since you looked. Please choose again.")
		return s.showMove(c, http.StatusConflict, b, f)
	}
	moved, err := s.Store.MoveBooking(c.Request().Context(), payer(b), b.ID, to, store.Once{Key: f.Values.Get("once")})
	if err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.showMove(c, api.Status(err), b, f)
	}
	s.say(c, "You are moved to "+moved.Class.StartsAt.Show(s.Store.Loc)+". Your calendar entry moves along.")
	return c.Redirect(http.StatusSeeOther, "/b/"+b.Secret)
}
