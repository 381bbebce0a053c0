package frontend

import (
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

var reviewPages = map[string]Page{
	"owner_review": {Shop, ReviewPage{}},
}

// ReviewPage is a season looked back on.
type ReviewPage struct {
	Layout
	Form   Form
	Review store.SeasonReview
	Pace   [5]int
	Farms  []ReviewFarm
	Said   []store.Said // without names
}

// ReviewFarm is a farm's animals with what their bellies gave, in words.
type ReviewFarm struct {
	store.ReviewFarm
	What, Gave string
}

func (s *Site) reviewRoutes(e *echo.Echo) {
	e.GET("/owner/season/review", s.review, api.Need(shop.Owner))
}

func (s *Site) review(c echo.Context) error {
	today := s.Store.Today()
	f := Form{Values: url.Values{"from": {(today - 120).String()}, "to": {today.String()}}}
	span := map[string]unit.Day{"from": today - 120, "to": today}
	for name := range span {
		typed := c.QueryParam(name)
		if typed == "" {
			continue
		}
		f.Values.Set(name, typed)
		d, err := unit.ParseDay(typed)
		if err != nil {
			f.Fail(name, "Write a date such as 2026-10-05.")
			continue
		}
		span[name] = d
	}
	p := ReviewPage{Layout: s.Layout(c, "Season looked back on"), Form: f, Pace: store.PaceDays}
	if !f.OK() {
		return s.Render(c, http.StatusUnprocessableEntity, "owner_review", p)
	}
	r, err := s.Store.SeasonReview(c.Request().Context(), span["from"], span["to"])
	if err != nil {
		if refused(&f, err) {
			p.Form = f
			return s.Render(c, api.Status(err), "owner_review", p)
		}
		return err
	}
	p.Review = *r
	if p.Said, err = s.Store.Reviews(c.Request().Context(), span["from"], span["to"]); err != nil {
		return err
	}
	for _, farm := range r.Farms {
		row := ReviewFarm{ReviewFarm: farm, What: shop.AnimalsIn(farm.Species, farm.Animals)}
		var gave []string
		for _, n := range slices.Backward(slices.Sorted(maps.Keys(farm.BySlabs))) {
			gave = append(gave, fmt.Sprintf("%d of %d bellies gave %s", farm.BySlabs[n], farm.Bellies, plural(n, "slab", "slabs")))
		}
		if farm.SkinOn > 0 {
			gave = append(gave, fmt.Sprintf("%d with the skin on", farm.SkinOn))
		}
		row.Gave = strings.Join(gave, ", ")
		p.Farms = append(p.Farms, row)
	}
	return s.Render(c, http.StatusOK, "owner_review", p)
}
