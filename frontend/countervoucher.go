package frontend

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

var counterVoucherPages = map[string]Page{
	"counter_vouchers": {Shop, CounterVouchersPage{}},
	"counter_voucher":  {Shop, CounterVoucherPage{}},
}

// CounterVouchersPage finds vouchers and sells one.
type CounterVouchersPage struct {
	Layout
	Find  Form
	Sell  Form
	Kinds []Choice
	Found []store.VoucherView
	Years int
}

// CounterVoucherPage is one voucher, with the code that goes onto its card.
type CounterVoucherPage struct {
	Layout
	Voucher store.VoucherView
}

func (s *Site) counterVoucherRoutes(e *echo.Echo) {
	staff := api.Need(shop.Staff)
	e.GET("/staff/vouchers", func(c echo.Context) error { return s.showVouchers(c, http.StatusOK, CounterVouchersPage{}) }, staff)
	e.POST("/staff/vouchers", s.sellVoucher, staff)
	e.POST("/staff/vouchers/find", s.findVouchers, staff)
	e.GET("/staff/vouchers/:id", s.counterVoucher, staff)
}

func (s *Site) showVouchers(c echo.Context, status int, p CounterVouchersPage) error {
	p.Layout, p.Years = s.Layout(c, "Vouchers"), s.Store.Rules.VoucherYears
	p.Sell.Once, p.Sell.Prefix, p.Find.Prefix = s.once(), "sell-", "find-"
	p.Sell.Order = []string{"kind", "amount", "name", "email", "receiver", "receiver_email", "send_on", "method"}
	kinds, err := s.Store.KindPrices(c.Request().Context())
	if err != nil {
		return err
	}
	for _, k := range kinds {
		p.Kinds = append(p.Kinds, Choice{Value: fmt.Sprintf("%s/%d", k.Code, k.Card.Price), Label: fmt.Sprintf("A seat: %s, %s", k.Name, k.Card.Price)})
	}
	p.Kinds = append(p.Kinds, Choice{Value: "money", Label: "A sum of money"})
	return s.Render(c, status, "counter_vouchers", p)
}

// findVouchers is a POST, because a voucher's code is money and belongs in no address.
func (s *Site) findVouchers(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	found, err := s.Store.FindVouchers(c.Request().Context(), f.Values.Get("q"))
	if err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.showVouchers(c, api.Status(err), CounterVouchersPage{Find: f})
	}
	if len(found) == 1 {
		return c.Redirect(http.StatusSeeOther, fmt.Sprintf("/staff/vouchers/%d", found[0].ID))
	}
	return s.showVouchers(c, http.StatusOK, CounterVouchersPage{Find: f, Found: found})
}

func (s *Site) counterVoucher(c echo.Context) error {
	id, err := strconv.ParseInt(c.Param("id"), 10, 64)
	if err != nil {
		return shop.Missing("The voucher")
	}
	v, err := s.Store.VoucherByID(c.Request().Context(), shop.VoucherID(id))
	if err != nil {
		return err
	}
	return s.Render(c, http.StatusOK, "counter_voucher", CounterVoucherPage{Layout: s.Layout(c, "Voucher"), Voucher: *v})
}

func (s *Site) sellVoucher(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	v := f.Values
	n := shop.NewVoucher{Kind: "seat", BuyerName: v.Get("name"), BuyerEmail: v.Get("email"), ReceiverName: v.Get("receiver"), ReceiverEmail: v.Get("receiver_email")}
	in := shop.PaymentIn{Method: v.Get("method"), Key: "counter/" + v.Get("once")}
	kind, shown, seat := strings.Cut(v.Get("kind"), "/")
	switch {
	case seat: // the price it was shown at; the store refuses if it has changed
		n.ClassKind = kind
		cents, _ := strconv.ParseInt(shown, 10, 64)
		in.Cents = unit.Money(cents)
	case kind == "money":
		n.Kind = "money"
		if n.Cents, err = unit.ParseMoney(v.Get("amount")); err != nil {
			f.Fail("amount", err.Error())
		}
		in.Cents = n.Cents
	default:
		f.Fail("kind", "A seat, or a sum of money?")
	}
	if typed := trimmed(v, "send_on"); typed != "" {
		if n.SendOn, err = unit.ParseDay(typed); err != nil {
			f.Fail("send_on", err.Error())
		}
	}
	if v.Get("once") == "" {
		f.Fail("", "This page was made wrongly; open it again before taking money.")
	}
	if !f.OK() {
		return s.showVouchers(c, http.StatusUnprocessableEntity, CounterVouchersPage{Sell: f})
	}
	sold, err := s.Store.SellVoucher(c.Request().Context(), api.Actor(c), n, in)
	if err != nil {
		if !refused(&f, err) {
			return err
		}
		for _, name := range []string{"cents", "class_kind"} {
			if text, ok := f.Errors[name]; ok {
				delete(f.Errors, name)
				f.Fail("kind", text)
			}
		}
		return s.showVouchers(c, api.Status(err), CounterVouchersPage{Sell: f})
	}
	s.say(c, sold.Worth.String()+" taken. Print the card, or write the code onto one.")
	return c.Redirect(http.StatusSeeOther, fmt.Sprintf("/staff/vouchers/%d", sold.ID))
}
