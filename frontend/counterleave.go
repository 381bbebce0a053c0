package frontend

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/money"
	"flitchbook/planner/unit"
)

var counterLeavePages = map[string]Page{
	"counter_letgo":  {Shop, CounterLetGoPage{}},
	"counter_move":   {Shop, CounterMovePage{}},
	"counter_answer": {Shop, CounterAnswerPage{}},
}

// CounterLetGoPage shows the exact money before anything is pressed.
type CounterLetGoPage struct {
	Layout
	Form    Form
	Booking store.BookingView
	Quote   store.LeaveQuote
	Who     []Choice // who may leave, each with their own money
	Going   []store.SeatQuote
	Sum     money.Leaving
	Words   string // of the sum
	All     bool   // everybody goes
	Chosen  bool   // it is settled who goes: the money may be pressed
	Paid    bool   // there is money to give back at all
	Choose  []Choice
	Shown   string // the money as this page shows it; the press is refused when it has changed
	Whole   unit.Money
}

func (s *Site) counterLeaveRoutes(e *echo.Echo) {
	staff := api.Need(shop.Staff)
	e.GET("/staff/bookings/:number/letgo", s.counterLetGo, staff)
	e.POST("/staff/bookings/:number/letgo", s.letGo, staff)
	e.GET("/staff/bookings/:number/move", s.counterMove, staff)
	e.POST("/staff/bookings/:number/move", s.moveBooking, staff)
	e.GET("/staff/bookings/:number/answer", s.counterAnswer, staff)
	e.POST("/staff/bookings/:number/answer", s.answerFor, staff)
}

func (s *Site) counterLetGo(c echo.Context) error {
	b, err := s.numbered(c)
	if err != nil {
		return err
	}
	p := CounterLetGoPage{Booking: *b}
	p.Form.Values = c.QueryParams()
	if c.QueryParams().Has("show") && len(c.QueryParams()["seat"]) == 0 {
		p.Form.Fail("seat", "Who leaves? Tick at least one.")
		return s.showCounterLetGo(c, http.StatusUnprocessableEntity, p)
	}
	return s.showCounterLetGo(c, http.StatusOK, p)
}

func (s *Site) showCounterLetGo(c echo.Context, status int, p CounterLetGoPage) error {
	q, err := s.Store.LeaveQuote(c.Request().Context(), p.Booking.ID)
	if err != nil {
		return err
	}
	p.Layout, p.Quote = s.Layout(c, "Let go "+p.Booking.Ref), *q
	p.Form.Once = s.once()
	if p.Booking.State == shop.Held || len(q.Seats) == 0 {
		p.Chosen, p.All = true, true
		return s.Render(c, status, "counter_letgo", p)
	}
	asked := p.Form.Values["seat"]
	for i, seat := range q.Seats {
		id := strconv.FormatInt(int64(seat.Seat), 10)
		name := seat.Guest
		if name == "" {
			name = fmt.Sprintf("Guest %d", i+1)
		}
		p.Who = append(p.Who, Choice{Value: id, Label: name, Hint: seat.Text})
		if q.Whole || len(q.Seats) == 1 || slices.Contains(asked, id) {
			p.Going = append(p.Going, seat)
		}
	}
	p.Chosen, p.All = len(p.Going) > 0, len(p.Going) == len(q.Seats)
	for i, seat := range p.Going {
		if i == 0 {
			p.Sum = seat.Leaving
		} else {
			p.Sum = p.Sum.Add(seat.Leaving)
		}
	}
	p.Words, p.Shown = p.Sum.Words(), shownMoney(p.Sum)
	p.Whole = p.Sum.Credit + p.Sum.IfSold
	p.Paid = p.Whole > 0
	if p.Sum.Tier != money.IfSoldNew && p.Paid {
		p.Choose = []Choice{{Value: "money", Label: p.Sum.Money.String() + " back"}, {Value: "credit", Label: p.Sum.Credit.String() + " credit"}}
	}
	if p.Form.Values == nil || p.Form.Values.Get("choice") == "" {
		p.Form.Values = nil // a first look
	}
	return s.Render(c, status, "counter_letgo", p)
}

func shownMoney(l money.Leaving) string { return fmt.Sprintf("%s/%s/%s", l.Money, l.Credit, l.IfSold) }

func (s *Site) letGo(c echo.Context) error {
	b, err := s.numbered(c)
	if err != nil {
		return err
	}
	f, err := formOf(c)
	if err != nil {
		return err
	}
	ctx, by, v := c.Request().Context(), api.Actor(c), f.Values
	if v.Get("do") == "list" {
		if err := s.Store.LeaveWaiting(ctx, by, b.ID); err != nil {
			return s.counterRefused(c, b, err)
		}
		s.say(c, b.Ref+" is off the waiting list.")
		return c.Redirect(http.StatusSeeOther, bookingPath(b))
	}
	in := shop.LeaveIn{Choice: v.Get("choice"), CreditName: v.Get("credit_name"), CreditEmail: v.Get("credit_email"), Kinder: v.Get("kinder") != "", Reason: trimmed(v, "reason")}
	for _, text := range v["seat"] {
		if id, err := strconv.ParseInt(text, 10, 64); err == nil {
			in.Seats = append(in.Seats, shop.SeatLeave{Seat: shop.SeatID(id)})
		}
	}
	if stale, err := s.quoteChanged(c, b, in, v.Get("shown")); err != nil {
		return err
	} else if stale {
		f.Fail("", "Meanwhile the money has changed. Look at it as it stands now, then press again.")
		return s.showCounterLetGo(c, http.StatusConflict, CounterLetGoPage{Booking: *b, Form: f})
	}
	now, err := s.Store.LetGo(ctx, by, b.ID, in, store.Once{Key: v.Get("once"), Fingerprint: fingerprint(v, b.Ref)})
	if err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.showCounterLetGo(c, api.Status(err), CounterLetGoPage{Booking: *b, Form: f})
	}
	s.say(c, leftWords(b, now))
	return c.Redirect(http.StatusSeeOther, bookingPath(b))
}

// quoteChanged says whether the money a page showed is no longer what a press would give.
// A press that was done already shows as nothing left to quote and is let through: it
// counts once.
func (s *Site) quoteChanged(c echo.Context, b *store.BookingView, in shop.LeaveIn, shown string) (bool, error) {
	if b.State != shop.Firm {
		return false, nil
	}
	q, err := s.Store.LeaveQuote(c.Request().Context(), b.ID)
	if err != nil {
		return false, err
	}
	var sum money.Leaving
	n := 0
	for _, seat := range q.Seats {
		if len(in.Seats) > 0 && !slices.ContainsFunc(in.Seats, func(l shop.SeatLeave) bool { return l.Seat == seat.Seat }) {
			continue
		}
		if n++; n == 1 {
			sum = seat.Leaving
		} else {
			sum = sum.Add(seat.Leaving)
		}
	}
	return n > 0 && shownMoney(sum) != shown, nil
}

func leftWords(before, now *store.BookingView) string {
	if before.Revision == now.Revision {
		return "That was done already; nothing was done twice."
	}
	text := before.Ref + " is let go"
	if now.State.Holds() {
		text = fmt.Sprintf("%s let go; %s", plural(len(before.People)-len(now.People), "seat", "seats"), plural(len(now.People), "person stays", "people stay"))
	}
	if back := before.Paid - now.Paid; back > 0 {
		text += fmt.Sprintf(". %s came off what was paid: how is in the money below", back)
	}
	return text + "."
}

// CounterMovePage lists the classes a booking could move to, and what one would cost.
type CounterMovePage struct {
	Layout
	Form    Form
	Booking store.BookingView
	Same    []store.ClassCard
	Other   []store.ClassCard
	To      *store.ClassCard
	Quote   *store.MoneyQuote
	Shown   string
}

func (s *Site) counterMove(c echo.Context) error {
	b, err := s.numbered(c)
	if err != nil {
		return err
	}
	return s.showCounterMove(c, http.StatusOK, c.QueryParam("to"), CounterMovePage{Booking: *b})
}

// roomFor lists the classes ahead that have seats enough for a booking.
func (s *Site) roomFor(c echo.Context, b *store.BookingView) (same, other []store.ClassCard, err error) {
	cards, err := s.Store.Classes(c.Request().Context(), s.Store.Today())
	if err != nil {
		return nil, nil, err
	}
	for _, card := range cards {
		switch {
		case card.ID == b.Class.ID || card.Private || !bookable(card, s.Store.Now()) || card.Left < b.Places:
		case card.Kind == b.Class.Kind:
			same = append(same, card)
		default:
			other = append(other, card)
		}
	}
	return same, other, nil
}

func (s *Site) showCounterMove(c echo.Context, status int, to string, p CounterMovePage) error {
	ctx := c.Request().Context()
	p.Layout = s.Layout(c, "Move "+p.Booking.Ref)
	p.Form.Once, p.To = s.once(), nil
	var err error
	if p.Same, p.Other, err = s.roomFor(c, &p.Booking); err != nil {
		return err
	}
	if to == "" {
		return s.Render(c, status, "counter_move", p)
	}
	q, err := s.Store.MoveQuote(ctx, api.Actor(c), p.Booking.ID, to)
	if err != nil {
		if !refused(&p.Form, err) {
			return err
		}
		if status == http.StatusOK {
			status = api.Status(err)
		}
		return s.Render(c, status, "counter_move", p)
	}
	cl, err := s.Store.AnyClass(ctx, to)
	if err != nil {
		return err
	}
	p.To, p.Quote, p.Shown = &cl.ClassCard, q, shownQuote(q)
	return s.Render(c, status, "counter_move", p)
}

func shownQuote(q *store.MoneyQuote) string { return fmt.Sprintf("%s/%s/%s", q.Owes, q.Back, q.Credit) }

func (s *Site) moveBooking(c echo.Context) error {
	b, err := s.numbered(c)
	if err != nil {
		return err
	}
	f, err := formOf(c)
	if err != nil {
		return err
	}
	ctx, by, to := c.Request().Context(), api.Actor(c), f.Values.Get("to")
	if b.Class.Code != to { // else it was pressed twice
		q, err := s.Store.MoveQuote(ctx, by, b.ID, to)
		if err == nil && shownQuote(q) != f.Values.Get("shown") {
			f.Fail("", "Meanwhile the money has changed. Look at it as it stands now, then press again.")
			return s.showCounterMove(c, http.StatusConflict, to, CounterMovePage{Booking: *b, Form: f})
		}
	}
	now, err := s.Store.MoveBooking(ctx, by, b.ID, to, store.Once{Key: f.Values.Get("once"), Fingerprint: fingerprint(f.Values, b.Ref)})
	if err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.showCounterMove(c, api.Status(err), "", CounterMovePage{Booking: *b, Form: f})
	}
	s.say(c, fmt.Sprintf("%s is in %s now, %s.", b.Ref, now.Class.Code, now.Class.StartsAt.Show(s.Store.Loc)))
	return c.Redirect(http.StatusSeeOther, bookingPath(b))
}

// CounterAnswerPage takes what a party said on the telephone after its class was called
// off or moved by the shop (R5).
type CounterAnswerPage struct {
	Layout
	Form    Form
	Booking store.BookingView
	Money   store.MoneyQuote
	Credit  store.MoneyQuote
	Moved   bool // the class has a new date that may be accepted
	Classes []Choice
}

func (s *Site) counterAnswer(c echo.Context) error {
	b, err := s.numbered(c)
	if err != nil {
		return err
	}
	return s.showCounterAnswer(c, http.StatusOK, b, Form{})
}

func (s *Site) showCounterAnswer(c echo.Context, status int, b *store.BookingView, f Form) error {
	ctx, by := c.Request().Context(), api.Actor(c)
	p := CounterAnswerPage{Layout: s.Layout(c, "Answer of "+b.Ref), Form: f, Booking: *b, Moved: b.State == shop.Firm}
	for into, choice := range map[*store.MoneyQuote]string{&p.Money: shop.AnswerMoney, &p.Credit: shop.AnswerCredit} {
		q, err := s.Store.AnswerQuote(ctx, by, b.ID, choice, "")
		if err != nil {
			return err
		}
		*into = *q
	}
	same, other, err := s.roomFor(c, b)
	if err != nil {
		return err
	}
	for _, card := range append(same, other...) {
		p.Classes = append(p.Classes, Choice{Value: card.Code, Label: fmt.Sprintf("%s %s, %s, %d left", card.Code, card.Title, card.StartsAt.Show(s.Store.Loc), card.Left)})
	}
	return s.Render(c, status, "counter_answer", p)
}

func (s *Site) answerFor(c echo.Context) error {
	b, err := s.numbered(c)
	if err != nil {
		return err
	}
	f, err := formOf(c)
	if err != nil {
		return err
	}
	now, err := s.Store.Answer(c.Request().Context(), api.Actor(c), b.ID, f.Values.Get("choice"), f.Values.Get("to"))
	if err != nil {
		if b.AnswerUntil == 0 {
			return s.counterRefused(c, b, err)
		}
		if !refused(&f, err) {
			return err
		}
		return s.showCounterAnswer(c, api.Status(err), b, f)
	}
	text := "Their answer is noted."
	if back := b.Paid - now.Paid; back > 0 {
		text += fmt.Sprintf(" %s came off what was paid: how is in the money below.", back)
	}
	s.say(c, text)
	return c.Redirect(http.StatusSeeOther, bookingPath(b))
}
