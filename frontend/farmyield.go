package frontend

import (
	"fmt"
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/carcass"
	"flitchbook/planner/unit"
)

var farmYieldPages = map[string]Page{
	"owner_farms": {Shop, FarmsPage{}},
	"owner_farm":  {Shop, OwnFarmPage{}},
}

// FarmsPage lists the farms.
type FarmsPage struct {
	Layout
	Farms []shop.Farm
}

// OwnFarmPage is one farm: what the shop reckons with beside what its animals say.
type OwnFarmPage struct {
	Layout
	Farm   shop.Farm
	Form   Form
	Yields []yieldShown
}

// yieldShown is one sort of animal as the page shows it.
type yieldShown struct {
	store.YieldView
	Name    string // "Pork, white cross"
	Figures []figureShown
	Choose  Form // prior to weigh against
	Priors  []Choice
	Learned bool // something was weighed
	Sum     string
	Tests   []testRow
}

// figureShown is one figure: started with, its own, taken together, reckoned with.
type figureShown struct {
	Name, Prior, Own, Now, Used string
	Samples                     int
	Moves                       bool // taking over would change it
}

func (s *Site) farmYieldRoutes(e *echo.Echo) {
	g, owner := e.Group("/owner/farms"), api.Need(shop.Owner)
	g.GET("", func(c echo.Context) error {
		farms, err := s.Store.Farms(c.Request().Context())
		if err != nil {
			return err
		}
		return s.Render(c, http.StatusOK, "owner_farms", FarmsPage{s.Layout(c, "Farms"), farms})
	}, owner)
	g.GET("/:code", func(c echo.Context) error { return s.farmPage(c, http.StatusOK, Form{}) }, owner)
	g.POST("/:code/yield", s.adoptYield, owner)
}

func (s *Site) farmPage(c echo.Context, status int, f Form) error {
	prior := c.QueryParam("prior")
	if f.Values != nil {
		prior = f.Values.Get("prior")
	}
	v, err := s.Store.FarmPage(c.Request().Context(), c.Param("code"), prior)
	if err != nil {
		return err
	}
	p := OwnFarmPage{Layout: s.Layout(c, v.Farm.Name), Farm: v.Farm, Form: f}
	for i, y := range v.Yields {
		p.Yields = append(p.Yields, showYield(y, i))
	}
	return s.Render(c, status, "owner_farm", p)
}

func showYield(y store.YieldView, i int) yieldShown {
	out := yieldShown{YieldView: y, Name: upperFirst(y.Row.Species) + ", " + y.Row.Breed, Learned: y.Own.Animals+y.Own.Tests > 0,
		Choose: Form{Prefix: fmt.Sprintf("y%d-", i), Values: map[string][]string{"prior": {y.Prior}}},
		Priors: []Choice{{Value: "", Label: "What the shop started with: " + y.Own.Prior.Source}}}
	if y.Prior != "" {
		out.Priors[0].Label = "What the shop started with"
	}
	for _, p := range y.Priors {
		out.Priors = append(out.Priors, Choice{Value: p.Key, Label: p.Animal + ": " + p.Cite()})
	}
	used := usedFigures(y.Now)
	for _, l := range y.Own.Learned {
		if l.Prior == 0 && l.Samples == 0 {
			continue
		}
		f := figureShown{Name: l.Name, Prior: l.Show(l.Prior), Now: l.Show(l.Now), Samples: l.Samples, Used: "–", Own: "–"}
		if l.Samples > 0 {
			f.Own = l.Show(l.Own)
		}
		if v, ok := used[l.Name]; ok {
			f.Used, f.Moves = l.Show(v), v != l.Now
		}
		out.Figures = append(out.Figures, f)
	}
	for _, t := range y.Tests {
		out.Tests = append(out.Tests, testRow{t.ID, t.Day, t.Name})
	}
	out.Sum = fmt.Sprintf("%s weighed, %d sides taken apart", shop.AnimalsIn(y.Row.Species, y.Own.Animals), y.Own.Tests)
	return out
}

// usedFigures is a profile's figures by the names they are learned under.
func usedFigures(p carcass.Profile) map[string]int64 {
	m := map[string]int64{"hanging weight": int64(p.HCW), "shrink": int64(p.Shrink), "belly": int64(p.Belly)}
	for _, c := range p.Rest {
		m[c.Cut] = int64(c.Share)
	}
	return m
}

type testRow struct {
	ID   int64
	Day  unit.Day
	Name string
}

func (s *Site) adoptYield(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	code, species := c.Param("code"), f.Values.Get("species")
	if err := s.Store.AdoptYield(c.Request().Context(), api.Actor(c), code, species, f.Values.Get("prior")); err != nil {
		if refused(&f, err) {
			return s.farmPage(c, api.Status(err), f)
		}
		return err
	}
	s.say(c, "The shop reckons with this farm's own figures from now on.")
	return c.Redirect(http.StatusSeeOther, "/owner/farms/"+code)
}

// upperFirst begins a word with a capital.
func upperFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
