package frontend

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

var dinnerMeatPages = map[string]Page{"dinner_meat": {Shop, DinnerMeatPage{}}}

// DinnerMeatPage reckons how much to buy for a dinner and says which lots it may come from.
type DinnerMeatPage struct {
	Layout
	Meat    store.DinnerMeat
	Form    Form // roast and portion
	Choose  Form // the lot
	Roasts  []Choice
	Line    buyLine
	Species string // of the roast
	Cut     string // of the animal, "" when none is named
	NotFrom string
	Lots    []dinnerLotRow
	Portion string // ounces, as reckoned
}

type dinnerLotRow struct {
	store.DinnerLot
	Chosen bool
}

func (s *Site) dinnerMeatRoutes(e *echo.Echo) {
	guard := api.Need(shop.Kitchen, shop.Staff)
	e.GET("/staff/kitchen/:code/meat", func(c echo.Context) error { return s.dinnerMeat(c, http.StatusOK, Form{}) }, guard)
	e.POST("/staff/kitchen/:code/meat", s.chooseDinnerLot, guard)
}

// dinnerMeat answers a question asked in the address, so that it can be kept and sent on;
// what was typed wrong stands beside its field.
func (s *Site) dinnerMeat(c echo.Context, status int, choose Form) error {
	q := c.QueryParams()
	f := Form{Prefix: "q-"}
	if q.Has("roast") || q.Has("portion") {
		f.Values = url.Values{"roast": q["roast"], "portion": q["portion"]}
	}
	var portion unit.Weight
	if typed := strings.TrimSpace(q.Get("portion")); typed != "" {
		w, err := unit.ParseWeightIn(typed, unit.Ounce)
		if err != nil {
			f.Fail("portion", err.Error())
		} else if w <= 0 {
			f.Fail("portion", "Write how much cooked meat a head, such as 6 oz.")
		}
		portion = w
	}
	ask := func(roast string, portion unit.Weight) (*store.DinnerMeat, error) {
		return s.Store.DinnerMeat(c.Request().Context(), c.Param("code"), roast, portion)
	}
	m, err := ask(q.Get("roast"), portion)
	if err != nil && refused(&f, err) {
		m, err = ask("", 0)
	}
	if err != nil {
		return err
	}
	if !f.OK() && status == http.StatusOK {
		status = http.StatusUnprocessableEntity
	}
	p := DinnerMeatPage{Layout: s.Layout(c, "Dinner meat "+m.Dinner.Code), Meat: *m, Form: f, Choose: choose, Line: *buyLineOf(m.Buy), Species: m.Buy.Species, Cut: m.Buy.Cut, NotFrom: strings.Join(m.NotFrom, ", "),
		Portion: m.Buy.Cooked.Number(unit.Ounce, 0)}
	for _, r := range m.Roasts {
		p.Roasts = append(p.Roasts, Choice{Value: r.Name, Label: fmt.Sprintf("%s, %s lost in cooking", r.Name, r.Loss.Pct(1))})
	}
	for _, l := range m.Lots {
		p.Lots = append(p.Lots, dinnerLotRow{l, l.Lot == m.Chosen})
	}
	return s.Render(c, status, "dinner_meat", p)
}

func (s *Site) chooseDinnerLot(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	if err := s.Store.ChooseDinnerLot(c.Request().Context(), api.Actor(c), c.Param("code"), f.Values.Get("lot")); err != nil {
		if refused(&f, err) {
			return s.dinnerMeat(c, api.Status(err), f)
		}
		return err
	}
	s.say(c, "The dinner's meat comes from lot "+f.Values.Get("lot")+".")
	return c.Redirect(http.StatusSeeOther, c.Request().URL.Path)
}
