package frontend

import (
	"net/http"
	"strconv"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
)

var dinnerLotPages = map[string]Page{"dinner_lots": {Shop, DinnerLotsPage{}}}

// DinnerLotsPage notes which lots went into a dinner: open it, tick, save.
type DinnerLotsPage struct {
	Layout
	Form   Form
	Dinner store.DinnerLots
	Lots   []Choice
}

func (s *Site) dinnerLotRoutes(e *echo.Echo) {
	guard := api.Need(shop.Kitchen, shop.Staff)
	e.GET("/staff/kitchen/:code/lots", func(c echo.Context) error { return s.dinnerLots(c, http.StatusOK, Form{}) }, guard)
	e.POST("/staff/kitchen/:code/lots", s.noteDinnerLots, guard)
}

func (s *Site) dinnerLots(c echo.Context, status int, f Form) error {
	d, err := s.Store.DinnerLots(c.Request().Context(), c.Param("code"))
	if err != nil {
		return err
	}
	p := DinnerLotsPage{Layout: s.Layout(c, "Lots used at "+d.Code), Form: f, Dinner: *d}
	if len(f.Values) == 0 {
		p.Form.Values = map[string][]string{"lot": {}}
		for _, l := range d.Lots {
			if l.Used {
				p.Form.Values.Add("lot", strconv.FormatInt(int64(l.ID), 10))
			}
		}
	}
	for _, l := range d.Lots {
		p.Lots = append(p.Lots, Choice{Value: strconv.FormatInt(int64(l.ID), 10), Label: l.Ingredient + " " + l.Code})
	}
	return s.Render(c, status, "dinner_lots", p)
}

func (s *Site) noteDinnerLots(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	var ids []shop.LotID
	for _, v := range f.Values["lot"] {
		n, err := strconv.ParseInt(v, 10, 64)
		if err != nil {
			return echo.NewHTTPError(http.StatusBadRequest)
		}
		ids = append(ids, shop.LotID(n))
	}
	if err := s.Store.NoteDinnerLots(c.Request().Context(), api.Actor(c), c.Param("code"), ids); err != nil {
		if refused(&f, err) {
			return s.dinnerLots(c, api.Status(err), f)
		}
		return err
	}
	s.say(c, plural(len(ids), "lot is", "lots are")+" noted for this dinner.")
	return c.Redirect(http.StatusSeeOther, c.Request().URL.Path)
}
