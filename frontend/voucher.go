package frontend

import (
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

var voucherPages = map[string]Page{
	"vouchers": {Public, VouchersPage{}},
	"voucher":  {Public, VoucherPage{}},
}

// VouchersPage sells presents.
type VouchersPage struct {
	Layout
	Form  Form
	Kinds []Choice
	What  []Choice
	Till  bool
	Sell  bool // here, at the demo's till or on the provider's page
	Years int
}

// VoucherPage is what whoever has the code sees: what it is good for, and the classes it
// can be used in. It shows no price of a seat.
type VoucherPage struct {
	Layout
	Voucher store.VoucherView
	Address string // where it is used
	Gone    bool   // it has been sent to whom it is for
	Classes []store.ClassCard
}

func (s *Site) voucherRoutes(e *echo.Echo) {
	e.GET("/vouchers", func(c echo.Context) error { return s.vouchers(c, http.StatusOK, Form{}) })
	e.POST("/vouchers", s.buyVoucher)
	e.GET("/vouchers/:code", s.voucher)
	e.GET("/vouchers/:code/card", s.voucherCard)
	e.GET("/vouchers/bought/:secret", s.boughtVoucher)
}

func (s *Site) vouchers(c echo.Context, status int, f Form) error {
	offers, err := s.Store.SeatPrices(c.Request().Context())
	if err != nil {
		return err
	}
	p := VouchersPage{Layout: s.Layout(c, "Vouchers"), Form: f, Till: s.Demo != nil, Sell: s.Demo != nil || s.Checkout != nil, Years: s.Store.Rules.VoucherYears,
		What: []Choice{{Value: "seat", Label: "A seat", Hint: "Keeps its worth whatever the price is by then."}, {Value: "money", Label: "A sum of money"}}}
	p.Form.Order = []string{"kind", "class_kind", "amount", "name", "email", "receiver", "receiver_email", "send_on"}
	p.Form.Once = s.once()
	if kept := f.Values.Get("once"); kept != "" {
		p.Form.Once = kept
	}
	for _, o := range offers {
		p.Kinds = append(p.Kinds, Choice{Value: o.Code, Label: o.Name + ", " + o.Price.String()})
	}
	return s.Render(c, status, "vouchers", p)
}

func (s *Site) buyVoucher(c echo.Context) error {
	if s.Demo == nil && s.Checkout == nil {
		return shop.Stop("no_till", "Vouchers are sold at the counter; these pages take no card.")
	}
	f, err := formOf(c)
	if err != nil {
		return err
	}
	ctx, v := c.Request().Context(), f.Values
	n := shop.NewVoucher{Kind: v.Get("kind"), BuyerName: v.Get("name"), BuyerEmail: v.Get("email"), ReceiverName: v.Get("receiver"), ReceiverEmail: v.Get("receiver_email")}
	if typed := strings.TrimSpace(v.Get("send_on")); typed != "" {
		if n.SendOn, err = unit.ParseDay(typed); err != nil {
			f.Fail("send_on", "Write the day as 2026-11-25.")
		}
	}
	var price unit.Money
	switch n.Kind {
	case "seat":
		n.ClassKind = v.Get("class_kind")
		offers, err := s.Store.SeatPrices(ctx)
		if err != nil {
			return err
		}
		for _, o := range offers {
			if o.Code == n.ClassKind {
				price = o.Price
			}
		}
		if price == 0 {
			f.Fail("class_kind", "For which kind of class?")
		}
	case "money":
		if n.Cents, err = unit.ParseMoney(strings.TrimSpace(v.Get("amount"))); err != nil {
			f.Fail("amount", "Write a sum such as 50 or 47.50.")
		}
		price = n.Cents
	}
	if e, ok := shop.AsError(n.Check(s.Store.Today(), shop.Customer("online"))); ok {
		refused(&f, e) // all that is wrong at once
	}
	if !f.OK() {
		return s.vouchers(c, http.StatusUnprocessableEntity, f)
	}
	if s.Demo == nil {
		return s.payForVoucher(c, n, f)
	}
	sold, err := s.Store.SellVoucher(ctx, shop.Customer("online"), n, shop.PaymentIn{Cents: price, Method: "till", Key: "present/" + v.Get("once")})
	if err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.vouchers(c, api.Status(err), f)
	}
	s.say(c, thanksForVoucher)
	return c.Redirect(http.StatusSeeOther, "/vouchers/"+sold.Code)
}

// thanksForVoucher stands over the card that may be shown at once, so it names no price.
const thanksForVoucher = "Thank you. The receipt is in your mail."

func (s *Site) voucher(c echo.Context) error {
	v, err := s.voucherOf(c)
	if err != nil {
		return err
	}
	l := s.Layout(c, "A voucher")
	l.Path = "/vouchers"
	p := VoucherPage{Layout: l, Voucher: *v, Address: s.plainAddress(),
		Gone: v.SendOn != 0 && v.SendOn.At(s.Store.Rules.MorningHour, 0, s.Store.Loc) <= s.Store.Now()}
	if !v.Spent() {
		season, err := s.Store.SeasonPage(c.Request().Context())
		if err != nil {
			return err
		}
		for _, class := range season.Classes {
			if class.OnSale && class.Left > 0 && (v.KindCode == "" || v.KindCode == class.Kind) {
				p.Classes = append(p.Classes, class)
			}
		}
	}
	return s.Render(c, http.StatusOK, "voucher", p)
}

// voucherOf opens a voucher by its code and marks the answer as nobody else's.
func (s *Site) voucherOf(c echo.Context) (*store.VoucherView, error) {
	c.Response().Header().Set("X-Robots-Tag", "noindex")
	return s.Store.VoucherByCode(c.Request().Context(), c.Param("code"))
}

// plainAddress is the shop's address on the web as people write it.
func (s *Site) plainAddress() string {
	return strings.TrimPrefix(strings.TrimPrefix(s.Store.Config.BaseURL, "https://"), "http://")
}

// payForVoucher leads to the payment provider's page; nothing is sold before the money comes.
func (s *Site) payForVoucher(c echo.Context, n shop.NewVoucher, f Form) error {
	page, err := s.Checkout.Voucher(c.Request().Context(), shop.Customer("online"), n, f.Values.Get("once"))
	if e, ok := shop.AsError(err); ok && (e.Kind == shop.Away || e.Kind == shop.Conflict) {
		f.Values.Del("once") // the next press begins anew
		f.Fail("", e.Text)
		return s.vouchers(c, api.Status(err), f)
	}
	if err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.vouchers(c, api.Status(err), f)
	}
	if page == "" {
		s.say(c, "This voucher is paid for. The receipt is in your mail.")
		page = "/vouchers"
	}
	return c.Redirect(http.StatusSeeOther, page)
}

// boughtVoucher is where the provider's page leads back to.
func (s *Site) boughtVoucher(c echo.Context) error {
	c.Response().Header().Set("X-Robots-Tag", "noindex")
	ctx := c.Request().Context()
	k, err := s.Store.Checkout(ctx, c.Param("secret"))
	if err != nil {
		return err
	}
	if s.Checkout != nil {
		if err := s.Checkout.Ask(ctx, *k); err != nil {
			return err
		}
		if k, err = s.Store.Checkout(ctx, c.Param("secret")); err != nil {
			return err
		}
	}
	to := "/vouchers"
	switch {
	case k.VoucherID != 0:
		s.say(c, thanksForVoucher)
		to += "/" + s.Store.VoucherCode(k.VoucherID)
	case k.State == shop.CheckoutPaid:
		s.say(c, "Your payment of "+k.Cents.String()+" could not be used, so it goes back to you. The mail says why.")
	case k.State == shop.CheckoutOpen:
		s.say(c, "We wait for the word that your payment has come. The voucher follows by mail; you need do nothing.")
	}
	return c.Redirect(http.StatusSeeOther, to)
}
