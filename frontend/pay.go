package frontend

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

var payPages = map[string]Page{
	"pay":  {Public, PayPage{}},
	"till": {Public, PayPage{}},
}

// PayPage says what is to be paid, until when seats are held, and takes codes. The till is
// the same page one step on.
type PayPage struct {
	Layout
	Booking store.BookingView
	Form    Form
	Quote   store.PayQuote
	Sum     unit.Money // asked for at the till
	Left    int        // seconds the seats are still held; 0: they are not held
	Until   string
	Till    bool // there is a till on these pages: only in the demo
	Online  bool // the payment provider's page takes cards
}

func (s *Site) payRoutes(e *echo.Echo) {
	e.GET("/b/:secret/pay", func(c echo.Context) error {
		// A voucher's page sends its code along; it is counted when the button is pressed.
		return s.payForm(c, http.StatusOK, Form{Values: url.Values{"codes": {c.QueryParam("codes")}}})
	})
	e.POST("/b/:secret/till", s.till)
	e.POST("/b/:secret/pay", s.pay)
	e.GET("/b/:secret/paid", s.backFromPaying)
}

// privately opens a booking by its link and marks the answer as nobody else's.
func (s *Site) privately(c echo.Context) (*store.BookingView, error) {
	// The address is the key: it must not be kept by a search engine.
	c.Response().Header().Set("X-Robots-Tag", "noindex")
	return s.Store.MyBooking(c.Request().Context(), c.Param("secret"))
}

// layoutFor begins a private page: its address stays out of it.
func (s *Site) layoutFor(c echo.Context, title string) Layout {
	l := s.Layout(c, title)
	l.Path = "/b"
	return l
}

func payer(b *store.BookingView) shop.Actor { return shop.Customer("payer of " + b.Ref) }

func (s *Site) payForm(c echo.Context, status int, f Form) error {
	b, err := s.privately(c)
	if err != nil {
		return err
	}
	waits := b.State == shop.Waiting || b.State == shop.Offered // nothing to pay yet: the booking's page says what comes first
	if waits || b.State != shop.Held && b.State != shop.LetGo && b.Owes <= 0 && f.OK() {
		return c.Redirect(http.StatusSeeOther, "/b/"+b.Secret)
	}
	p, err := s.payPage(c, b, f)
	if err != nil {
		return err
	}
	return s.Render(c, status, "pay", *p)
}

func (s *Site) payPage(c echo.Context, b *store.BookingView, f Form) (*PayPage, error) {
	p := &PayPage{Layout: s.layoutFor(c, "Pay"), Booking: *b, Form: f, Till: s.Demo != nil, Online: s.Checkout != nil && s.Demo == nil}
	p.Form.Once = s.once()
	p.Form.Order = []string{"codes", "cents"}
	if b.HoldUntil > 0 {
		p.Left, p.Until = max(0, int(b.HoldUntil.Sub(s.Store.Now()).Seconds())), s.until(b.HoldUntil)
	}
	if b.State == shop.LetGo || b.State == shop.SeatOff {
		return p, nil
	}
	vouchers, credits := codes(f.Values.Get("codes"))
	var err error
	p.Quote, err = s.Store.PayQuote(c.Request().Context(), payer(b), b.ID, vouchers, credits)
	if err != nil {
		if !codesRefused(&p.Form, err) {
			return nil, err
		}
		p.Quote, err = s.Store.PayQuote(c.Request().Context(), payer(b), b.ID, nil, nil)
	}
	return p, err
}

// codesRefused puts what is wrong with a code beside the one box for codes.
func codesRefused(f *Form, err error) bool {
	e, ok := shop.AsError(err)
	if !ok {
		return false
	}
	for _, name := range []string{"voucher", "credit"} {
		if text := e.Fields[name]; text != "" {
			f.Fail("codes", text)
			return true
		}
	}
	return refused(f, err)
}

// codes parts what was typed into voucher and credit codes. Each code counts once.
func codes(typed string) (vouchers, credits []string) {
	for _, code := range strings.FieldsFunc(typed, func(r rune) bool { return strings.ContainsRune(",; \t\r\n", r) }) {
		switch {
		case creditCode.MatchString(code):
			if !slices.Contains(credits, code) {
				credits = append(credits, code)
			}
		case !slices.Contains(vouchers, code):
			vouchers = append(vouchers, code)
		}
	}
	return vouchers, credits
}

// till asks for the money. What codes cover altogether needs no till.
func (s *Site) till(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	b, err := s.privately(c)
	if err != nil {
		return err
	}
	if b.State == shop.LetGo || f.Values.Get("do") == "codes" {
		p, err := s.payPage(c, b, f)
		if err != nil {
			return err
		}
		status := http.StatusOK
		if !p.Form.OK() {
			status = http.StatusUnprocessableEntity
		}
		return s.Render(c, status, "pay", *p)
	}
	p, err := s.payPage(c, b, f)
	if err != nil {
		return err
	}
	if !p.Form.OK() {
		return s.Render(c, http.StatusUnprocessableEntity, "pay", *p)
	}
	if b.State != shop.Held && b.Owes <= 0 {
		return c.Redirect(http.StatusSeeOther, "/b/"+b.Secret)
	}
	p.Sum = p.Quote.Money
	if f.Values.Get("all") == "yes" {
		p.Sum = p.Quote.All
	}
	if p.Sum == 0 && b.State == shop.Held || p.Quote.Covered > 0 && p.Quote.All == 0 {
		return s.take(c, b, f, 0, "page/"+b.Ref+"/"+f.Values.Get("once"))
	}
	if p.Online {
		return s.sendToPay(c, b, f)
	}
	if !p.Till {
		p.Form.Fail("codes", "The code does not cover everything that is due.")
		if p.Quote.Covered == 0 {
			p.Form.Errors["codes"] = "Type the code of a voucher or credit."
		}
		return s.Render(c, http.StatusUnprocessableEntity, "pay", *p)
	}
	if b.State == shop.Held {
		until, err := s.Store.BeginPaying(c.Request().Context(), b.ID)
		if err != nil {
			if !refused(&p.Form, err) {
				return err
			}
			return s.payForm(c, api.Status(err), p.Form)
		}
		p.Left, p.Until = max(0, int(until.Sub(s.Store.Now()).Seconds())), s.until(until)
	}
	p.Title = "Demo till"
	return s.Render(c, http.StatusOK, "till", *p)
}

// pay counts the till's money.
func (s *Site) pay(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	b, err := s.privately(c)
	if err != nil {
		return err
	}
	if s.Demo == nil {
		return shop.Stop("no_till", "Money is taken at the counter or by transfer; the shop notes it with the booking %s.", b.Ref)
	}
	cents, perr := strconv.ParseInt(f.Values.Get("cents"), 10, 64)
	if perr != nil || cents < 0 {
		f.Fail("cents", "The till asked for no sum we can read. Please begin again.")
		return s.payForm(c, http.StatusUnprocessableEntity, f)
	}
	return s.take(c, b, f, unit.Money(cents), "till/"+b.Ref+"/"+f.Values.Get("once"))
}

// take hands a payment to the books and says what became of it.
func (s *Site) take(c echo.Context, b *store.BookingView, f Form, cents unit.Money, key string) error {
	vouchers, credits := codes(f.Values.Get("codes"))
	in := shop.PaymentIn{Cents: cents, Key: key, Vouchers: vouchers, Credits: credits}
	if cents > 0 {
		in.Method = "till"
	}
	if f.Values.Get("once") == "" {
		in.Key = ""
	}
	paid, err := s.Store.Pay(c.Request().Context(), payer(b), b.ID, in)
	if e, ok := shop.AsError(err); ok && e.Code == "key_reused" {
		return c.Redirect(http.StatusSeeOther, "/b/"+b.Secret) // this press has counted
	}
	if err != nil {
		if !codesRefused(&f, err) {
			return err
		}
		return s.payForm(c, api.Status(err), f)
	}
	to := b.Secret
	switch {
	case paid.Waiting != nil:
		to = paid.Waiting.Secret
		s.say(c, "The payment came after your seats were let go. "+paid.Returned.String()+" went back to you in full at once, and you now stand first on the waiting list.")
	case paid.Returned > 0 && paid.Booking.State == shop.LetGo:
		s.say(c, "The payment came after your seats were let go. "+paid.Returned.String()+" went back to you in full at once.")
	case paid.Returned > 0:
		s.say(c, "That was more than was owed: "+paid.Returned.String()+" went straight back to you.")
	case !paid.Again && b.State == shop.Held:
		s.say(c, "Thank you. Your seats are firm; the confirmation is in your mail.")
	case !paid.Again:
		s.say(c, "Thank you, it is paid.")
	}
	return c.Redirect(http.StatusSeeOther, "/b/"+to)
}

// sendToPay leads to the payment provider's page. When there is none now, the page says so
// with what was typed, and seats that were held still are.
func (s *Site) sendToPay(c echo.Context, b *store.BookingView, f Form) error {
	ask := shop.CheckoutAsk{All: f.Values.Get("all") == "yes", Key: f.Values.Get("once")}
	ask.Vouchers, ask.Credits = codes(f.Values.Get("codes"))
	page, err := s.Checkout.Booking(c.Request().Context(), payer(b), b, ask)
	if e, ok := shop.AsError(err); ok && e.Kind == shop.Away {
		f.Fail("", e.Text)
		return s.payForm(c, http.StatusServiceUnavailable, f)
	}
	if err != nil {
		if !codesRefused(&f, err) {
			return err
		}
		return s.payForm(c, api.Status(err), f)
	}
	if page == "" {
		return c.Redirect(http.StatusSeeOther, "/b/"+b.Secret) // this press was paid for already
	}
	return c.Redirect(http.StatusSeeOther, page)
}

// backFromPaying is where the provider's page leads back to. Its notice may still be on the
// way, so the provider is asked.
func (s *Site) backFromPaying(c echo.Context) error {
	b, err := s.privately(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	all, err := s.Store.Checkouts(ctx, b.ID)
	if err != nil {
		return err
	}
	if len(all) == 0 {
		return c.Redirect(http.StatusSeeOther, "/b/"+b.Secret)
	}
	if s.Checkout != nil {
		if err := s.Checkout.Ask(ctx, all[0]); err != nil {
			return err
		}
		if all, err = s.Store.Checkouts(ctx, b.ID); err != nil {
			return err
		}
	}
	switch k := all[0]; {
	case k.State == shop.CheckoutPaid && k.Outcome == "paid":
		s.say(c, "Thank you. "+k.Cents.String()+" is paid; the confirmation is in your mail.")
	case k.State == shop.CheckoutPaid:
		s.say(c, "Your payment of "+k.Cents.String()+" could not be used, so it goes back to you. The mail says why.")
	case k.State == shop.CheckoutOpen:
		s.say(c, "We wait for the word that your payment has come. A mail follows; you need do nothing.")
	}
	return c.Redirect(http.StatusSeeOther, "/b/"+b.Secret)
}
