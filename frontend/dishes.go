package frontend

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/table"
)

var dishPages = map[string]Page{
	"dishes":      {Shop, DishesPage{}},
	"dinner_menu": {Shop, DinnerMenuPage{}},
}

// DishesPage is what the shop cooks and what it holds; one of them (or a new one) is open.
type DishesPage struct {
	Layout
	Form      Form
	Dishes    []store.DishView
	Open      shop.DishID // the one being changed; 0: a new one
	Allergens []Choice
	Kinds     []Choice
}

// DinnerMenuPage says what one dinner has.
type DinnerMenuPage struct {
	Layout
	Form   Form
	Dinner store.Dinner
	Dishes []Choice
}

func (s *Site) dishRoutes(e *echo.Echo) {
	guard := api.Need(shop.Kitchen, shop.Staff)
	e.GET("/staff/dishes", func(c echo.Context) error { return s.dishes(c, http.StatusOK, Form{}) }, guard)
	e.POST("/staff/dishes", s.saveDish, guard)
	e.POST("/staff/dishes/:id/gone", s.dropDish, guard)
	e.GET("/staff/kitchen/:code/menu", func(c echo.Context) error { return s.dinnerMenu(c, http.StatusOK, Form{}) }, guard)
	e.POST("/staff/kitchen/:code/menu", s.setMenu, guard)
}

func (s *Site) dishes(c echo.Context, status int, f Form) error {
	dishes, kinds, err := s.Store.Dishes(c.Request().Context())
	if err != nil {
		return err
	}
	p := DishesPage{Layout: s.Layout(c, "Dishes"), Form: f, Dishes: dishes}
	p.Form.Order = []string{"name", "holds", "board", "kinds"}
	typed := f.Values.Get("id")
	if len(f.Values) == 0 {
		p.Form.Values = map[string][]string{"kinds": {}}
		typed = c.QueryParam("dish")
		for _, d := range dishes {
			if strconv.FormatInt(int64(d.ID), 10) == typed {
				p.Form.Values = map[string][]string{"name": {d.Name}, "holds": strings.Split(d.Holds, ","), "board": {d.Board}, "kinds": d.Kinds}
			}
		}
	}
	if i := slices.IndexFunc(dishes, func(d store.DishView) bool { return strconv.FormatInt(int64(d.ID), 10) == typed }); i >= 0 {
		p.Open = dishes[i].ID
	}
	for _, a := range shop.Allergens {
		if a != table.Other {
			p.Allergens = append(p.Allergens, Choice{Value: a, Label: a})
		}
	}
	for _, k := range kinds {
		p.Kinds = append(p.Kinds, Choice{Value: k.Code, Label: k.Name})
	}
	return s.Render(c, status, "dishes", p)
}

func (s *Site) saveDish(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	id, err := strconv.ParseInt("0"+f.Values.Get("id"), 10, 64)
	if err != nil {
		return echo.NewHTTPError(http.StatusBadRequest)
	}
	n := shop.NewDish{Name: f.Values.Get("name"), Holds: f.Values["holds"], Board: f.Values.Get("board"), Kinds: f.Values["kinds"]}
	if _, err := s.Store.SaveDish(c.Request().Context(), api.Actor(c), shop.DishID(id), n); err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.dishes(c, api.Status(err), f)
	}
	s.say(c, trimmed(f.Values, "name")+" is written down; every table sheet printed from now on knows it.")
	return c.Redirect(http.StatusSeeOther, "/staff/dishes")
}

func (s *Site) dropDish(c echo.Context) error {
	id, err := strconv.ParseInt(c.Param("id"), 10, 64)
	if err != nil {
		return echo.NewHTTPError(http.StatusNotFound)
	}
	if err := s.Store.DropDish(c.Request().Context(), api.Actor(c), shop.DishID(id)); err != nil {
		return err
	}
	s.say(c, "It is off every menu.")
	return c.Redirect(http.StatusSeeOther, "/staff/dishes")
}

func (s *Site) dinnerMenu(c echo.Context, status int, f Form) error {
	m, err := s.Store.Menu(c.Request().Context(), c.Param("code"))
	if err != nil {
		return err
	}
	p := DinnerMenuPage{Layout: s.Layout(c, "Dishes of "+m.Code), Form: f, Dinner: m.Dinner}
	fresh := len(f.Values) == 0
	if fresh {
		p.Form.Values = map[string][]string{"dish": {}}
	}
	for _, l := range m.Lines {
		ch := Choice{Value: strconv.FormatInt(int64(l.ID), 10), Label: l.Name}
		if l.Holds != "" {
			ch.Hint = "holds " + spaced(l.Holds)
		}
		if len(l.Away) > 0 {
			ch.Off, ch.Label = true, l.Name+": away"
			ch.Hint = fmt.Sprintf("It holds %s, marked severe at this table.", strings.Join(l.Away, ", "))
		} else if l.Served && fresh {
			p.Form.Values["dish"] = append(p.Form.Values["dish"], ch.Value)
		}
		p.Dishes = append(p.Dishes, ch)
	}
	return s.Render(c, status, "dinner_menu", p)
}

func (s *Site) setMenu(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	var ids []shop.DishID
	for _, v := range f.Values["dish"] {
		n, err := strconv.ParseInt(v, 10, 64)
		if err != nil {
			return echo.NewHTTPError(http.StatusBadRequest)
		}
		ids = append(ids, shop.DishID(n))
	}
	if err := s.Store.SetMenu(c.Request().Context(), api.Actor(c), c.Param("code"), ids); err != nil {
		if !refused(&f, err) {
			return err
		}
		f.Values.Set("id", "typed")
		return s.dinnerMenu(c, api.Status(err), f)
	}
	s.say(c, plural(len(ids), "dish is", "dishes are")+" wanted at this dinner.")
	return c.Redirect(http.StatusSeeOther, c.Request().URL.Path)
}

// dishRow is a dish on the table sheet.
type dishRow struct {
	Name, Holds string
	Not, Near   string // needs it holds, and needs it touches
	Cannot, Ask int
}

// dishRows puts a table's dishes into the words of its sheet: those on the table, those
// that are away, and the needs to ask about at every dish.
func dishRows(t *store.TableSheet) (rows []dishRow, away, ask string) {
	var gone, open []string
	for i, d := range t.Dishes {
		var not, near []string
		for j, m := range d.Marks {
			switch need := t.All.Lines[j].Name; m {
			case table.Holds:
				not = append(not, need)
			case table.Touches:
				near = append(near, need)
			case table.Ask:
				if i == 0 {
					open = append(open, need)
				}
			}
		}
		if len(d.Away) > 0 {
			gone = append(gone, fmt.Sprintf("%s (%s, severe)", d.Name, strings.Join(d.Away, ", ")))
			continue
		}
		row := dishRow{Name: d.Name, Holds: strings.Join(d.Holds, ", "), Not: strings.Join(not, ", "), Cannot: d.Cannot, Ask: d.Unsure}
		if len(near) > 0 {
			row.Near = "touches " + strings.Join(near, ", ")
		}
		rows = append(rows, row)
	}
	return rows, strings.Join(gone, "; "), strings.Join(open, ", ")
}
