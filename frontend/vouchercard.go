package frontend

import (
	"net/http"
	"net/url"

	"github.com/labstack/echo/v4"

	"flitchbook/api/shop"
	"flitchbook/api/store"
)

var voucherCardPages = map[string]Page{
	"voucher_card": {Paper, VoucherCardPage{}},
}

// VoucherCardPage is a voucher's card in true size, to print on card stock and give: what
// it is good for, its code and how long. What was paid for a seat is not on it (R7).
type VoucherCardPage struct {
	Sheet
	Voucher store.VoucherView
	Half    bool // half a Letter, not A5
	Address string
	Place   shop.Address
	Code    Code // leads to the voucher's page, where a class is chosen
}

func (s *Site) voucherCard(c echo.Context) error {
	v, err := s.voucherOf(c)
	if err != nil {
		return err
	}
	p := VoucherCardPage{Sheet: Sheet{Layout: s.Layout(c, "A voucher")}, Voucher: *v, Half: c.QueryParam("paper") == "half-letter", Address: s.plainAddress()}
	p.Path = "/vouchers"
	if p.Place, err = s.Store.Address(c.Request().Context()); err != nil {
		return err
	}
	if p.Code, err = qrCode(s.Store.Config.BaseURL + "/vouchers/" + url.PathEscape(v.Code)); err != nil {
		return err
	}
	return s.Render(c, http.StatusOK, "voucher_card", p)
}
