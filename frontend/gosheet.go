package frontend

import (
	"fmt"
	"net/http"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
)

var goSheetPages = map[string]Page{"go_sheet": {Shop, GoSheetPage{}}}

// GoSheetPage is what the owner looks at before saying go or call off.
type GoSheetPage struct {
	Layout
	Go      store.GoSheet
	What    string // "2 pigs"
	Without string
	Fewer   string
	Pace    []paceShown
	Band    string
	Error   string // mean miss of the past, in seats; "" without a history
	Share   string // of the credit
}

type paceShown struct {
	Before  int
	Mean    string
	Between string
	Share   string
	This    string
}

func (s *Site) goSheetRoutes(e *echo.Echo) {
	e.GET("/owner/classes/:code/go", s.goSheet, api.Need(shop.Owner))
}

func (s *Site) goSheet(c echo.Context) error {
	g, err := s.Store.GoSheet(c.Request().Context(), c.Param("code"))
	if err != nil {
		return err
	}
	p := GoSheetPage{Layout: s.Layout(c, g.Class.Code+": go ahead?"), Go: *g, Band: g.Expect.Band(), Share: s.Store.Rules.CalledOffShare.String()}
	if g.Kind.Species != "" {
		p.What, p.Without = shop.AnimalsIn(g.Kind.Species, g.Animals), shop.AnimalsIn(g.Kind.Species, g.Without)
		p.Fewer = shop.AnimalsIn(g.Kind.Species, g.Fewer)
	}
	if g.Expect.Cover > 0 {
		p.Error = fmt.Sprintf("%.1f seats", g.Expect.Error)
	}
	for _, r := range g.Pace {
		row := paceShown{Before: r.Before, Mean: fmt.Sprintf("%.1f", r.Mean), Between: fmt.Sprintf("%d to %d", r.Low, r.High), Share: fmt.Sprintf("%.0f %%", 100*r.Share), This: "–"}
		if r.Known {
			row.This = fmt.Sprint(r.This)
		}
		p.Pace = append(p.Pace, row)
	}
	return s.Render(c, http.StatusOK, "go_sheet", p)
}
