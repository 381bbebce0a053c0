package frontend

import (
	"fmt"
	"net/http"
	"net/url"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

var outletPages = map[string]Page{"outlets": {Shop, OutletsPage{}}}

// OutletsPage is what the shop sells of each cut in a week, to be typed over.
type OutletsPage struct {
	Layout
	Form Form
	Cuts []outletShown
}

type outletShown struct {
	Title string // "Pork: ham"
	List  unit.Money
	Ways  []outletWay
}

// outletWay is one pair of boxes.
type outletWay struct {
	Way, Week, Price string // names of the fields
}

func (s *Site) outletRoutes(e *echo.Echo) {
	owner := api.Need(shop.Owner)
	e.GET("/owner/outlets", func(c echo.Context) error { return s.outlets(c, http.StatusOK, Form{}) }, owner)
	e.POST("/owner/outlets", s.setOutlets, owner)
}

// outletField names a box: "pork/ham/counter/week".
func outletField(o shop.Outlet, what string) string {
	return o.Species + "/" + o.Cut + "/" + o.Way + "/" + what
}

func (s *Site) outlets(c echo.Context, status int, f Form) error {
	sheet, err := s.Store.Outlets(c.Request().Context())
	if err != nil {
		return err
	}
	p := OutletsPage{Layout: s.Layout(c, "What a week sells"), Form: f}
	fresh := f.Values == nil
	if fresh {
		p.Form.Values = url.Values{}
	}
	for _, cut := range sheet.Cuts {
		shown := outletShown{Title: upperFirst(cut.Species) + ": " + cut.Cut, List: cut.List}
		for _, o := range cut.Ways {
			w := outletWay{o.Way, outletField(o, "week"), outletField(o, "price")}
			shown.Ways = append(shown.Ways, w)
			p.Form.Order = append(p.Form.Order, w.Week, w.Price)
			if !fresh {
				continue
			}
			if o.Week > 0 {
				p.Form.Values.Set(w.Week, o.Week.Number(unit.Pound, 2))
			}
			price := o.Price
			if price == 0 && o.Way == shop.AtCounter {
				price = cut.List
			}
			if price > 0 {
				p.Form.Values.Set(w.Price, price.String()[1:])
			}
		}
		p.Cuts = append(p.Cuts, shown)
	}
	return s.Render(c, status, "outlets", p)
}

func (s *Site) setOutlets(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	sheet, err := s.Store.Outlets(ctx)
	if err != nil {
		return err
	}
	all := typedOutlets(&f, sheet)
	if !f.OK() {
		return s.outlets(c, http.StatusUnprocessableEntity, f)
	}
	n, err := s.Store.SetOutlets(ctx, api.Actor(c), all)
	if err != nil {
		if refused(&f, err) {
			return s.outlets(c, api.Status(err), f)
		}
		return err
	}
	s.say(c, plural(n, "outlet is", "outlets are")+" changed.")
	return c.Redirect(http.StatusSeeOther, "/owner/outlets")
}

// typedOutlets reads the sheet's boxes and holds each against the rules beside its box.
func typedOutlets(f *Form, sheet *store.OutletSheet) []shop.Outlet {
	var all []shop.Outlet
	for _, cut := range sheet.Cuts {
		for _, o := range cut.Ways {
			week, price := outletField(o, "week"), outletField(o, "price")
			if !f.Values.Has(week) && !f.Values.Has(price) {
				continue
			}
			o.Week, o.Price = optionalPounds(f, week), optionalMoney(f, price)
			if e, ok := shop.AsError(o.Check()); ok {
				for name, text := range e.Fields {
					f.Fail(outletField(o, name), text)
				}
			}
			if o.Week > 0 && o.Price == 0 {
				f.Fail(price, fmt.Sprintf("What does a pound of %s fetch that way?", o.Cut))
			}
			all = append(all, o)
		}
	}
	return all
}
