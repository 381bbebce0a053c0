package frontend

import (
	"fmt"
	"net/http"
	"strconv"
	"time"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
)

var drillPages = map[string]Page{
	"drills": {Shop, DrillsPage{}},
	"drill":  {Shop, DrillPage{}},
}

// DrillsPage lists the tries of how good the records are.
type DrillsPage struct {
	Layout
	Form Form
	Rows []drillRow
}

type drillRow struct {
	store.DrillView
	FoundIn string
	TookIn  string
}

// DrillPage is one drill: the question, then what came of it.
type DrillPage struct {
	Layout
	Form  Form
	Drill drillRow
}

func (s *Site) drillRoutes(e *echo.Echo) {
	g := e.Group("/staff/drills", api.Need(shop.Staff))
	g.GET("", func(c echo.Context) error { return s.drills(c, http.StatusOK, Form{}) })
	g.POST("", s.beginDrill)
	g.GET("/:id", func(c echo.Context) error { return s.drill(c, http.StatusOK, Form{}) })
	g.POST("/:id", s.answerDrill)
}

func drillShown(v store.DrillView) drillRow {
	r := drillRow{DrillView: v, FoundIn: fmt.Sprintf("%.1f ms", float64(v.Found)/float64(time.Millisecond))}
	if v.Found == 0 {
		r.FoundIn = "less than the clock tells apart" // a demo's clock has whole seconds
	}
	if v.Answered() {
		r.TookIn = fmt.Sprintf("%d:%02d min", int(v.Took.Minutes()), int(v.Took.Seconds())%60)
	}
	return r
}

func (s *Site) drills(c echo.Context, status int, f Form) error {
	all, err := s.Store.Drills(c.Request().Context())
	if err != nil {
		return err
	}
	p := DrillsPage{Layout: s.Layout(c, "Tracing drills"), Form: f}
	for _, v := range all {
		p.Rows = append(p.Rows, drillShown(v))
	}
	return s.Render(c, status, "drills", p)
}

// pick is chance: a number from 0 to n-1.
func (s *Site) pick(n int) int { return int(uint64(s.Store.Config.Rand()) % uint64(n)) }

func (s *Site) beginDrill(c echo.Context) error {
	id, err := s.Store.BeginDrill(c.Request().Context(), api.Actor(c), s.pick)
	if err != nil {
		var f Form
		if !refused(&f, err) {
			return err
		}
		return s.drills(c, api.Status(err), f)
	}
	return c.Redirect(http.StatusSeeOther, fmt.Sprintf("/staff/drills/%d", id))
}

func (s *Site) drill(c echo.Context, status int, f Form) error {
	id, err := strconv.ParseInt(c.Param("id"), 10, 64)
	if err != nil {
		return echo.NewHTTPError(http.StatusNotFound)
	}
	v, err := s.Store.Drill(c.Request().Context(), id)
	if err != nil {
		return err
	}
	return s.Render(c, status, "drill", DrillPage{Layout: s.Layout(c, "Tracing drill"), Form: f, Drill: drillShown(*v)})
}

func (s *Site) answerDrill(c echo.Context) error {
	id, err := strconv.ParseInt(c.Param("id"), 10, 64)
	if err != nil {
		return echo.NewHTTPError(http.StatusNotFound)
	}
	f, err := formOf(c)
	if err != nil {
		return err
	}
	if err := s.Store.AnswerDrill(c.Request().Context(), api.Actor(c), id, f.Values.Get("farm"), f.Values.Get("lot")); err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.drill(c, api.Status(err), f)
	}
	return c.Redirect(http.StatusSeeOther, c.Request().URL.Path)
}
