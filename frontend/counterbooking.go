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
	"flitchbook/planner/unit"
)

var counterBookingPages = map[string]Page{
	"counter_booking": {Shop, CounterBookingPage{}},
}

// CounterBookingPage is one booking at the counter: people, money, and what may follow.
type CounterBookingPage struct {
	Layout
	Booking  store.BookingView
	Pay      Form
	Collect  Form
	Count    Form // the final count of a private party
	Page     Form // what another button was refused for
	Payments []store.PaymentLine
	Guests   []DoorGuest
	Link     string // of the customer's own page
	Code     Code   // the same, to be scanned off this screen
	Ends     string // the hold or offer, in words
	Can      struct{ Pay, TakeOffer, LeaveList, LetGo, Move, Answer, Collect, Count bool }
	Quote    *store.MoneyQuote // of the final count asked about
	Heads    int
	Once     string
}

func (s *Site) counterBookingRoutes(e *echo.Echo) {
	staff := api.Need(shop.Staff)
	e.GET("/staff/bookings/:number", s.counterBooking, staff)
	e.POST("/staff/bookings/:number/pay", s.takePayment, staff)
	e.POST("/staff/bookings/:number/offer", s.takeOffer, staff)
	e.POST("/staff/bookings/:number/collector", s.counterCollector, staff)
	e.POST("/staff/bookings/:number/count", s.finalCount, staff)
}

// numbered reads the booking an address names: "28" or, as people say it, "K28".
func (s *Site) numbered(c echo.Context) (*store.BookingView, error) {
	n, err := strconv.Atoi(strings.TrimPrefix(strings.ToUpper(c.Param("number")), "K"))
	if err != nil {
		return nil, shop.Missing("The booking")
	}
	return s.Store.BookingByNumber(c.Request().Context(), n)
}

func bookingPath(b *store.BookingView) string { return fmt.Sprintf("/staff/bookings/%d", b.Number) }

func (s *Site) counterBooking(c echo.Context) error {
	b, err := s.numbered(c)
	if err != nil {
		return err
	}
	p := CounterBookingPage{Booking: *b}
	status := http.StatusOK
	if typed := strings.TrimSpace(c.QueryParam("heads")); typed != "" {
		p.Count.Values = c.QueryParams()
		if p.Heads, err = strconv.Atoi(typed); err != nil {
			p.Count.Fail("heads", "Write a number of people.")
			status = http.StatusUnprocessableEntity
		} else if p.Quote, err = s.Store.FinalCountQuote(c.Request().Context(), api.Actor(c), b.ID, p.Heads); err != nil {
			if !refused(&p.Count, err) {
				return err
			}
			p.Quote, status = nil, api.Status(err)
		}
	}
	return s.showCounterBooking(c, status, p)
}

func (s *Site) showCounterBooking(c echo.Context, status int, p CounterBookingPage) error {
	ctx, b := c.Request().Context(), p.Booking
	p.Layout, p.Once = s.Layout(c, b.Ref+" "+b.PayerName), s.once()
	p.Pay.Once, p.Pay.Prefix, p.Collect.Prefix, p.Count.Prefix = p.Once, "pay-", "collect-", "count-"
	p.Pay.Order = []string{"cents", "codes", "method", "note"}
	var err error
	if p.Payments, err = s.Store.Payments(ctx, b.ID); err != nil {
		return err
	}
	list := &store.DoorList{Class: store.ClassPage{ClassCard: b.Class}, Parties: []store.BookingView{b}}
	sheet, err := s.Store.ClassSheet(ctx, b.Class.Code)
	if err != nil {
		return err
	}
	p.Guests = doorParties(list, sheet)[0].Guests
	p.Link = s.Store.Config.BaseURL + "/b/" + b.Secret
	if p.Code, err = qrCode(p.Link); err != nil {
		return err
	}
	switch {
	case b.State == shop.Held && b.HoldUntil != 0:
		p.Ends = "Held until " + b.HoldUntil.Show(s.Store.Loc) + "; paid by then it is firm."
	case b.State == shop.Offered:
		p.Ends = "Offered until " + b.OfferUntil.Show(s.Store.Loc) + "."
	case b.State == shop.Waiting && b.Ahead == 0:
		p.Ends = "First on the waiting list."
	case b.State == shop.Waiting:
		p.Ends = fmt.Sprintf("On the waiting list, %s before it.", plural(b.Ahead, "party", "parties"))
	}
	ahead := s.Store.Now() < b.Class.StartsAt
	firm := b.State == shop.Firm
	p.Can.Pay = b.State.Holds() && b.State != shop.Offered && (b.Owes > 0 || b.State == shop.Held)
	p.Can.TakeOffer = b.State == shop.Offered
	p.Can.LeaveList = b.State == shop.Waiting || b.State == shop.Offered
	p.Can.LetGo = ahead && (firm || b.State == shop.Held)
	p.Can.Move = ahead && firm && b.AnswerUntil == 0
	p.Can.Answer = b.AnswerUntil != 0
	p.Can.Collect = b.Slabs > 0 && b.State.Holds()
	p.Can.Count = firm && b.Class.Private && ahead
	return s.Render(c, status, "counter_booking", p)
}

// Asked counts who has not told about food yet.
func (p CounterBookingPage) Asked() int {
	n := 0
	for _, g := range p.Guests {
		if g.Ask {
			n++
		}
	}
	return n
}

// creditCode is the shape of a credit's code; anything else typed is a voucher's.
var creditCode = regexp.MustCompile(`^[cC]\d+(-[0-9A-Za-z]{4}){4}$`)

func paymentOf(f *Form) shop.PaymentIn {
	v := f.Values
	in := shop.PaymentIn{Method: v.Get("method"), Key: "counter/" + v.Get("once"), Note: trimmed(v, "note")}
	for code := range strings.FieldsFuncSeq(v.Get("codes"), func(r rune) bool { return r == ',' || r == ';' || r == ' ' || r == '\n' || r == '\r' }) {
		if creditCode.MatchString(code) {
			in.Credits = append(in.Credits, code)
		} else {
			in.Vouchers = append(in.Vouchers, code)
		}
	}
	typed := trimmed(v, "cents")
	if in.Method == "none" { // the codes alone
		in.Method, typed = "", ""
	}
	if typed != "" {
		var err error
		if in.Cents, err = unit.ParseMoney(typed); err != nil {
			f.Fail("cents", err.Error())
		}
	} else if len(in.Vouchers)+len(in.Credits) == 0 {
		f.Fail("cents", "How much was paid?")
	}
	if v.Get("once") == "" {
		f.Fail("", "This page was made wrongly; open it again before taking money.")
	}
	return in
}

func (s *Site) takePayment(c echo.Context) error {
	b, err := s.numbered(c)
	if err != nil {
		return err
	}
	f, err := formOf(c)
	if err != nil {
		return err
	}
	in := paymentOf(&f)
	if !f.OK() {
		return s.showCounterBooking(c, http.StatusUnprocessableEntity, CounterBookingPage{Booking: *b, Pay: f})
	}
	paid, err := s.Store.Pay(c.Request().Context(), api.Actor(c), b.ID, in)
	if err != nil {
		if !refused(&f, err) {
			return err
		}
		for _, name := range []string{"voucher", "credit"} {
			if text, ok := f.Errors[name]; ok {
				delete(f.Errors, name)
				f.Fail("codes", text)
			}
		}
		return s.showCounterBooking(c, api.Status(err), CounterBookingPage{Booking: *b, Pay: f})
	}
	s.say(c, paidWords(b, paid, in.Cents))
	return c.Redirect(http.StatusSeeOther, bookingPath(b))
}

// paidWords says what became of the money in somebody's hand.
func paidWords(before *store.BookingView, paid *store.Paid, cents unit.Money) string {
	b := paid.Booking
	switch {
	case paid.Again:
		return "This payment had been counted already; nothing was taken twice."
	case paid.Returned == cents && cents > 0 && !b.State.Holds():
		text := fmt.Sprintf("The seats of %s had been let go. Give back %s.", b.Ref, paid.Returned)
		if paid.Waiting != nil {
			text += fmt.Sprintf(" The party now stands first on the waiting list as %s.", paid.Waiting.Ref)
		}
		return text
	case before.State == shop.Held && b.Owes > 0:
		return fmt.Sprintf("%s taken: %s is firm. %s is due by %s.", b.Paid-before.Paid, b.Ref, b.Owes, b.BalanceDueOn.Show())
	case before.State == shop.Held:
		return fmt.Sprintf("%s taken: %s is firm and paid.", b.Paid-before.Paid, b.Ref)
	case b.Owes > 0:
		return fmt.Sprintf("%s taken; %s is still owed.", b.Paid-before.Paid, b.Owes)
	}
	return fmt.Sprintf("%s taken: all is paid.", b.Paid-before.Paid)
}

func (s *Site) takeOffer(c echo.Context) error {
	b, err := s.numbered(c)
	if err != nil {
		return err
	}
	if err := s.Store.TakeOffer(c.Request().Context(), api.Actor(c), b.ID); err != nil {
		return s.counterRefused(c, b, err)
	}
	s.say(c, "The offer is taken; the seats are held. Take the payment to make them firm.")
	return c.Redirect(http.StatusSeeOther, bookingPath(b)+"#pay")
}

// counterRefused shows the booking again with why a button did nothing.
func (s *Site) counterRefused(c echo.Context, b *store.BookingView, err error) error {
	p := CounterBookingPage{}
	if !refused(&p.Page, err) {
		return err
	}
	fresh, again := s.Store.BookingByID(c.Request().Context(), b.ID)
	if again != nil {
		return again
	}
	p.Booking = *fresh
	return s.showCounterBooking(c, api.Status(err), p)
}

func (s *Site) counterCollector(c echo.Context) error {
	b, err := s.numbered(c)
	if err != nil {
		return err
	}
	f, err := formOf(c)
	if err != nil {
		return err
	}
	v := f.Values
	if err := s.Store.SetCollector(c.Request().Context(), api.Actor(c), b.ID, v.Get("collector"), v.Get("collector_mail"), v.Get("sliced") != ""); err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.showCounterBooking(c, api.Status(err), CounterBookingPage{Booking: *b, Collect: f})
	}
	s.say(c, "Noted who fetches it.")
	return c.Redirect(http.StatusSeeOther, bookingPath(b))
}

func (s *Site) finalCount(c echo.Context) error {
	b, err := s.numbered(c)
	if err != nil {
		return err
	}
	f, err := formOf(c)
	if err != nil {
		return err
	}
	heads, err := strconv.Atoi(trimmed(f.Values, "heads"))
	if err != nil {
		f.Fail("heads", "Write a number of people.")
		return s.showCounterBooking(c, http.StatusUnprocessableEntity, CounterBookingPage{Booking: *b, Count: f})
	}
	now, err := s.Store.FinalCount(c.Request().Context(), api.Actor(c), b.ID, heads)
	if err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.showCounterBooking(c, api.Status(err), CounterBookingPage{Booking: *b, Count: f})
	}
	s.say(c, fmt.Sprintf("Final count %d; %s is owed.", heads, now.Owes))
	return c.Redirect(http.StatusSeeOther, bookingPath(b))
}
