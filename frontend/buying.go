package frontend

import (
	"fmt"
	"net/http"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/demand"
)

var buyingPages = map[string]Page{"owner_buying": {Shop, BuyingPage{}}}

// BuyingPage is what to order for all classes to come, in one view and one press.
type BuyingPage struct {
	Layout
	Form    Form
	Plan    store.BuyingPlan
	Counts  []BuyingCount
	Nothing bool // nothing is left to order
}

// BuyingCount is a count of seats one can plan with.
type BuyingCount struct {
	Word    string
	Current bool
}

func (s *Site) buyingRoutes(e *echo.Echo) {
	owner := api.Need(shop.Owner)
	e.GET("/owner/buying", func(c echo.Context) error { return s.buying(c, http.StatusOK, levelOf(c.QueryParam("count")), Form{}) }, owner)
	e.POST("/owner/buying", s.placeBuying, owner)
}

// levelOf reads a count of seats; expected when it says nothing known.
func levelOf(word string) demand.Level {
	for _, l := range []demand.Level{demand.Sold, demand.Full} {
		if word == l.String() {
			return l
		}
	}
	return demand.Expected
}

func (s *Site) buying(c echo.Context, status int, level demand.Level, f Form) error {
	plan, err := s.Store.BuyingPlan(c.Request().Context(), level)
	if err != nil {
		return err
	}
	f.Once = s.once()
	p := BuyingPage{Layout: s.Layout(c, "What to order"), Form: f, Plan: *plan, Nothing: true}
	for _, l := range []demand.Level{demand.Sold, demand.Expected, demand.Full} {
		p.Counts = append(p.Counts, BuyingCount{l.String(), l == level})
	}
	for _, sp := range plan.Species {
		if len(sp.Orders) > 0 {
			p.Nothing = false
		}
	}
	return s.Render(c, status, "owner_buying", p)
}

func (s *Site) placeBuying(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	level, ask := levelOf(f.Values.Get("count")), f.Values.Get("do") == "ask"
	orders, err := s.Store.PlaceBuying(c.Request().Context(), api.Actor(c), level, f.Values.Get("mark"), ask, store.Once{Key: f.Values.Get("once"), Fingerprint: fingerprint(f.Values, "buying")})
	if err != nil {
		if refused(&f, err) {
			return s.buying(c, api.Status(err), level, f)
		}
		return err
	}
	text := plural(len(orders), "order is drafted.", "orders are drafted.")
	if ask {
		text = plural(len(orders), "order is drafted and its farm asked.", "orders are drafted and their farms asked.")
	}
	s.say(c, text)
	return c.Redirect(http.StatusSeeOther, "/owner/meat")
}

// Animals writes "4 pigs".
func (p BuyingPage) Animals(species string, n int) string { return shop.AnimalsIn(species, n) }

// Status says what stands behind a plan's figures.
func (p BuyingPage) Status(sp store.SpeciesPlan) string {
	if sp.Proven {
		return "No other way is cheaper: every one was weighed."
	}
	return fmt.Sprintf("The search stopped early: a cheaper way may exist, but none under %s.", sp.Bound)
}
