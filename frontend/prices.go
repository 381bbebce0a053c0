package frontend

import (
	"net/http"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

var pricePages = map[string]Page{"prices": {Shop, PricesPage{}}}

// PricesPage is what seats cost now and from moments to come, and where a price is set.
type PricesPage struct {
	Layout
	Form  Form
	Lines []store.PriceLine
	Seats []Choice // kind and seat in one
}

func (s *Site) priceRoutes(e *echo.Echo) {
	guard := api.Need(shop.Owner)
	e.GET("/owner/prices", func(c echo.Context) error { return s.prices(c, http.StatusOK, Form{}) }, guard)
	e.POST("/owner/prices", s.setPrice, guard)
	e.POST("/owner/prices/:id/back", s.takeBackPrice, guard)
}

// seatNames are the seats in the words of the price list.
var seatNames = map[shop.SeatKind]string{shop.SlabSeat: "seat with a slab", shop.SecondSlab: "second slab", shop.WatchSeat: "watching seat", shop.GuestSeat: "seat"}

func (s *Site) prices(c echo.Context, status int, f Form) error {
	lines, kinds, err := s.Store.Prices(c.Request().Context())
	if err != nil {
		return err
	}
	p := PricesPage{Layout: s.Layout(c, "Prices"), Form: f, Lines: lines, Seats: []Choice{{Value: "", Label: "Choose"}}}
	for _, k := range kinds {
		for _, seat := range k.Seats {
			p.Seats = append(p.Seats, Choice{Value: k.Code + " " + string(seat), Label: k.Name + ", " + seatNames[seat]})
		}
	}
	return s.Render(c, status, "prices", p)
}

// SeatName is a seat in the words of the price list.
func (PricesPage) SeatName(k shop.SeatKind) string { return seatNames[k] }

func (s *Site) setPrice(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	n := shop.NewPrice{From: s.moment(&f, "from")}
	kind, seat, _ := strings.Cut(trimmed(f.Values, "seat"), " ")
	n.Kind, n.Seat = kind, shop.SeatKind(seat)
	if n.Kind == "" {
		f.Fail("seat", "Please choose which seat.")
	}
	if n.Cents, err = unit.ParseMoney(trimmed(f.Values, "price")); err != nil {
		f.Fail("price", "Write a price such as 105 or 105.00.")
	}
	if !f.OK() {
		return s.prices(c, http.StatusUnprocessableEntity, f)
	}
	if err := s.Store.SetPrice(c.Request().Context(), api.Actor(c), n); err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.prices(c, api.Status(err), f)
	}
	when := "from now on"
	if n.From != 0 {
		when = "from " + n.From.Show(s.Store.Loc) + " on"
	}
	s.say(c, "Whoever books "+when+" pays "+n.Cents.String()+". Who has booked pays what they were asked.")
	return c.Redirect(http.StatusSeeOther, "/owner/prices")
}

func (s *Site) takeBackPrice(c echo.Context) error {
	id, err := strconv.ParseInt(c.Param("id"), 10, 64)
	if err != nil {
		return echo.NewHTTPError(http.StatusNotFound)
	}
	if err := s.Store.TakeBackPrice(c.Request().Context(), api.Actor(c), id); err != nil {
		var f Form
		if !refused(&f, err) {
			return err
		}
		return s.prices(c, api.Status(err), f)
	}
	s.say(c, "It is taken back; the price of today stays.")
	return c.Redirect(http.StatusSeeOther, "/owner/prices")
}
