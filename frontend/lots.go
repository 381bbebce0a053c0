package frontend

import (
	"net/http"
	"strconv"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
)

var lotPages = map[string]Page{
	"lots":    {Shop, LotsPage{}},
	"records": {Shop, RecordsPage{}},
}

// LotsPage is every bag, tin and roll, and where a new one is entered.
type LotsPage struct {
	Layout
	Form  Form
	Lots  []store.LotLine
	Today string
}

// RecordsPage says what is kept, and until when at least.
type RecordsPage struct {
	Layout
	Kept store.KeptRecords
}

func (s *Site) lotRoutes(e *echo.Echo) {
	guard := api.Need(shop.Staff)
	e.GET("/staff/lots", func(c echo.Context) error { return s.lots(c, http.StatusOK, Form{}) }, guard)
	e.POST("/staff/lots", s.openLot, guard)
	e.POST("/staff/lots/:id/used-up", s.useUpLot, guard)
	e.GET("/staff/records", s.records, guard)
}

func (s *Site) lots(c echo.Context, status int, f Form) error {
	lots, err := s.Store.Lots(c.Request().Context())
	if err != nil {
		return err
	}
	return s.Render(c, status, "lots", LotsPage{Layout: s.Layout(c, "Lots"), Form: f, Lots: lots})
}

func (s *Site) openLot(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	v := f.Values
	n := store.NewLot{Ingredient: v.Get("ingredient"), Code: v.Get("code"), Supplier: v.Get("supplier"), Nitrite: trimmed(v, "nitrite"), Replaces: trimmed(v, "replaces")}
	if err := s.Store.OpenLot(c.Request().Context(), api.Actor(c), n); err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.lots(c, api.Status(err), f)
	}
	s.say(c, "Lot "+trimmed(v, "code")+" of "+trimmed(v, "ingredient")+" is open.")
	return c.Redirect(http.StatusSeeOther, "/staff/lots")
}

func (s *Site) useUpLot(c echo.Context) error {
	id, err := strconv.ParseInt(c.Param("id"), 10, 64)
	if err != nil {
		return echo.NewHTTPError(http.StatusNotFound)
	}
	if err := s.Store.UseUpLot(c.Request().Context(), api.Actor(c), shop.LotID(id)); err != nil {
		var f Form
		if !refused(&f, err) {
			return err
		}
		return s.lots(c, api.Status(err), f)
	}
	s.say(c, "It is noted as used up today.")
	return c.Redirect(http.StatusSeeOther, "/staff/lots")
}

func (s *Site) records(c echo.Context) error {
	k, err := s.Store.Records(c.Request().Context())
	if err != nil {
		return err
	}
	return s.Render(c, http.StatusOK, "records", RecordsPage{Layout: s.Layout(c, "What is kept"), Kept: *k})
}
