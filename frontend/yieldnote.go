package frontend

import (
	"context"
	"net/http"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

var yieldNotePages = map[string]Page{
	"farm_yield":  {Public, FarmYieldPage{}},
	"owner_yield": {Shop, OwnerYieldPage{}},
}

// FarmYieldPage tells a farm, by its order's private link, what its animals gave.
type FarmYieldPage struct {
	Layout
	Secret string
	Ref    string
	Farm   string
	What   string // "2 pigs"
	Kill   unit.Day
	Note   noteShown
}

// OwnerYieldPage is the same before it is sent.
type OwnerYieldPage struct {
	Layout
	Form   Form
	Number int
	Ref    string
	Farm   string
	Email  string
	What   string
	Kill   unit.Day
	Note   noteShown
	SentAt unit.Instant
}

// noteShown is a note as both pages show it.
type noteShown struct {
	Hot, Cold  unit.Weight
	ShrinkText string
	Tells      string
	Slabs      int
	HasBellies bool
	Animals    []noteAnimal
	Season     string
}

type noteAnimal struct {
	Name       string
	Condemned  bool
	Hot, Cold  unit.Weight
	ShrinkText string
	Sides      []string
}

func (s *Site) yieldNoteRoutes(e *echo.Echo) {
	e.GET("/o/:secret/yield", s.farmYield)
	owner := api.Need(shop.Owner)
	e.GET("/owner/orders/:number/yield", func(c echo.Context) error { return s.ownerYield(c, http.StatusOK, Form{}) }, owner)
	e.POST("/owner/orders/:number/yield", s.sendYield, owner)
}

func showNote(n *store.YieldNote) noteShown {
	out := noteShown{Hot: n.Hot, Cold: n.Cold, ShrinkText: n.Shrink.Pct(1), Tells: n.Tells, Slabs: n.Slabs}
	for _, a := range n.Animals {
		na := noteAnimal{Name: a.Name, Condemned: a.Condemned, Hot: a.Hot, Cold: a.Cold, ShrinkText: a.Shrink.Pct(1)}
		for _, sd := range a.Sides {
			na.Sides = append(na.Sides, sd.Text())
			out.HasBellies = out.HasBellies || sd.Belly > 0
		}
		out.Animals = append(out.Animals, na)
	}
	out.Season = n.SeasonText()
	return out
}

func (s *Site) farmYield(c echo.Context) error {
	n, err := s.Store.YieldNoteFor(c.Request().Context(), c.Param("secret"))
	if err != nil {
		return err
	}
	return s.Render(c, http.StatusOK, "farm_yield", FarmYieldPage{Layout: s.Layout(c, "What came of "+n.Order.Ref()), Secret: c.Param("secret"),
		Ref: n.Order.Ref(), Farm: n.Farm.Name, What: shop.AnimalsIn(n.Order.Species, n.Order.Delivered), Kill: n.Kill, Note: showNote(n)})
}

func (s *Site) ownerYield(c echo.Context, status int, f Form) error {
	num, err := number(c)
	if err != nil {
		return err
	}
	n, err := s.Store.YieldNoteOf(c.Request().Context(), num)
	if err != nil {
		return err
	}
	return s.Render(c, status, "owner_yield", OwnerYieldPage{Layout: s.Layout(c, "What came of "+n.Order.Ref()), Form: f, Number: num,
		Ref: n.Order.Ref(), Farm: n.Farm.Name, Email: n.Farm.Email, What: shop.AnimalsIn(n.Order.Species, n.Order.Delivered), Kill: n.Kill,
		Note: showNote(n), SentAt: n.SentAt})
}

func (s *Site) sendYield(c echo.Context) error {
	num, err := number(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	if err := s.sendNote(ctx, api.Actor(c), num); err != nil {
		var f Form
		if refused(&f, err) {
			return s.ownerYield(c, api.Status(err), f)
		}
		return err
	}
	s.say(c, "The note is on its way to the farm.")
	return c.Redirect(http.StatusSeeOther, c.Request().URL.Path)
}

func (s *Site) sendNote(ctx context.Context, by shop.Actor, number int) error {
	id, err := s.Store.OrderNumbered(ctx, number)
	if err != nil {
		return err
	}
	return s.Store.SendYieldNote(ctx, by, id)
}
