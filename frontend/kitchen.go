package frontend

import (
	"fmt"
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/table"
	"flitchbook/planner/unit"
)

var kitchenPages = map[string]Page{
	"kitchen":       {Shop, KitchenPage{}},
	"kitchen_table": {Paper, TablePage{}},
}

// KitchenPage lists the dinners of the next weeks.
type KitchenPage struct {
	Layout
	Dinners []store.Dinner
}

// TablePage is one dinner's table sheet on paper. Its dishes stand against every need at
// the table; a few rows are left for what is written in by hand.
type TablePage struct {
	Sheet
	Dinner   store.Dinner
	Sure     table.Count
	Maybe    table.Count
	All      table.Count
	People   []tableRow
	Changes  []store.TableChange
	Buy      *buyLine
	NotFrom  string
	Lot      string // chosen for the dinner
	KeepAway string
	WineAge  int
	Dishes   []dishRow
	Away     string
	LeftOut  string
	AskOf    string // needs that no list of allergens answers
	Spare    []int  // empty rows
	Caution  string
}

type tableRow struct {
	store.AtTable
	Told string // the needs in words
}

type buyLine struct {
	Roast, Raw, Portion, AHead, Loss, Trim, Basis string
	Guests                                        int
}

const spareDishes = 3

func (s *Site) kitchenRoutes(e *echo.Echo) {
	guard := api.Need(shop.Kitchen, shop.Staff)
	e.GET("/staff/kitchen", s.kitchen, guard)
	e.GET("/staff/kitchen/:code", s.tableSheet, guard)
}

func (s *Site) kitchen(c echo.Context) error {
	dinners, err := s.Store.Dinners(c.Request().Context())
	if err != nil {
		return err
	}
	return s.Render(c, http.StatusOK, "kitchen", KitchenPage{Layout: s.Layout(c, "Kitchen"), Dinners: dinners})
}

func (s *Site) tableSheet(c echo.Context) error {
	t, err := s.Store.TableSheet(c.Request().Context(), c.Param("code"))
	if err != nil {
		return err
	}
	p := TablePage{
		Sheet:  Sheet{Layout: s.Layout(c, "Table sheet "+t.Code), Version: fmt.Sprintf("version %d", t.Version), Large: c.QueryParam("large") != ""},
		Dinner: t.Dinner, Sure: t.Sure, Maybe: t.Maybe, All: t.All, Changes: t.Changes, NotFrom: strings.Join(t.NotFrom, ", "),
		KeepAway: strings.Join(t.All.Severe(), ", "), WineAge: s.Store.Rules.WineAge, Spare: make([]int, spareDishes), Caution: table.Caution,
	}
	for _, m := range t.People {
		row := tableRow{AtTable: m}
		var told []string
		for _, n := range m.Needs {
			told = append(told, n.String())
		}
		row.Told = strings.Join(told, "; ")
		p.People = append(p.People, row)
	}
	p.Dishes, p.Away, p.AskOf = dishRows(t)
	var out []string
	for _, l := range t.Menu {
		if l.OnMenu && !l.Served {
			out = append(out, l.Name)
		}
	}
	p.LeftOut = strings.Join(out, ", ")
	p.Buy, p.Lot = buyLineOf(t.Buy), t.Lot
	return s.Render(c, http.StatusOK, "kitchen_table", p)
}

func buyLineOf(b *table.Purchase) *buyLine {
	if b == nil {
		return nil
	}
	ounces := func(w unit.Weight, places int) string { return w.Number(unit.Ounce, places) + " oz" }
	return &buyLine{Roast: b.Name, Raw: b.Raw.LB(), Guests: b.Guests, Portion: ounces(b.Cooked, 0), AHead: ounces(b.AHead, 2),
		Loss: b.Loss.Pct(1), Trim: b.Trim.Pct(0), Basis: b.Basis}
}
