package frontend

import (
	"maps"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

var seasonPages = map[string]Page{
	"owner_season": {Shop, SketchPage{}},
}

// SketchPage is the season sketch: a picture of the weeks and the same in a table, the
// classes, and the form that sketches another.
type SketchPage struct {
	Layout
	Form    Form // what publishing was refused for
	Add     Form
	Kinds   []Choice
	Sketch  store.SeasonSketch
	Picture SeasonPicture
	Breaks  []string
	Weeks   []SketchWeek
	Classes []store.SeasonClass
}

// SketchWeek is a row of the table.
type SketchWeek struct {
	store.SeasonWeek
	Hooks    []string
	Kill     string
	Over     []string // what breaks
	Standing []string // codes of classes that are not called off, "B9?" of one only sketched
}

func (s *Site) seasonRoutes(e *echo.Echo) {
	g, owner := e.Group("/owner/season"), api.Need(shop.Owner)
	g.GET("", func(c echo.Context) error { return s.season(c, http.StatusOK, Form{}, Form{}) }, owner)
	g.POST("/classes", s.addClass, owner)
	g.POST("/publish", s.publish, owner)
	g.POST("/publish-all", s.publishAll, owner)
}

func (s *Site) season(c echo.Context, status int, page, add Form) error {
	ctx := c.Request().Context()
	today := s.Store.Today()
	sketch, err := s.Store.Season(ctx, today, today+16*7)
	if err != nil {
		return err
	}
	kinds, err := s.Store.Kinds(ctx)
	if err != nil {
		return err
	}
	add.Prefix = "new-"
	p := SketchPage{Layout: s.Layout(c, "Season"), Form: page, Add: add, Sketch: *sketch}
	picture(sketch, &p.Picture)
	p.Breaks = runs(sketch.Breaks)
	for _, w := range sketch.Weeks {
		p.Weeks = append(p.Weeks, SketchWeek{w, hookWords(w.Loads), killWords(w.Kills), runs(w.Breaks), codesOf(w.Classes)})
		p.Classes = append(p.Classes, w.Classes...)
	}
	for _, k := range kinds {
		p.Kinds = append(p.Kinds, Choice{Value: k.Code, Label: k.Name})
	}
	return s.Render(c, status, "owner_season", p)
}

func (s *Site) addClass(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	v := f.Values
	n := shop.NewClass{Code: strings.ToUpper(strings.TrimSpace(v.Get("code"))), Kind: v.Get("kind"), Title: v.Get("title"), MinSeats: -1, DemoSlabs: -1,
		Private: v.Get("private") == "yes"}
	if typed := strings.TrimSpace(v.Get("starts")); typed != "" {
		at, err := time.ParseInLocation("2006-01-02T15:04", strings.Replace(typed, " ", "T", 1), s.Store.Loc)
		if err != nil {
			f.Fail("starts", "Write the moment as 2026-11-21 14:00.")
		}
		n.StartsAt = unit.InstantOf(at)
	}
	if typed := strings.TrimSpace(v.Get("seats")); typed != "" {
		if n.Seats, err = strconv.Atoi(typed); err != nil {
			f.Fail("seats", "Write a whole number of seats.")
		}
	}
	if typed := strings.TrimSpace(v.Get("flat")); typed != "" {
		if n.FlatCents, err = unit.ParseMoney(typed); err != nil {
			f.Fail("flat", err.Error())
		}
	}
	if !f.OK() {
		return s.season(c, http.StatusUnprocessableEntity, Form{}, f)
	}
	class, err := s.Store.AddClass(c.Request().Context(), api.Actor(c), n)
	if err != nil {
		if refused(&f, err) {
			return s.season(c, api.Status(err), Form{}, f)
		}
		return err
	}
	s.say(c, class.Code+" is sketched. Only the shop sees it until it is published.")
	return c.Redirect(http.StatusSeeOther, "/owner/season")
}

func (s *Site) publish(c echo.Context) error {
	code := c.FormValue("code")
	if err := s.Store.Publish(c.Request().Context(), api.Actor(c), code); err != nil {
		var f Form
		if refused(&f, err) {
			return s.season(c, api.Status(err), f, Form{})
		}
		return err
	}
	s.say(c, code+" is open for booking.")
	return c.Redirect(http.StatusSeeOther, "/owner/season")
}

// publishAll opens every sketched class that fits and says why others stay.
func (s *Site) publishAll(c echo.Context) error {
	opened, stay, err := s.Store.PublishFitting(c.Request().Context(), api.Actor(c))
	if err != nil {
		var f Form
		if refused(&f, err) {
			return s.season(c, api.Status(err), f, Form{})
		}
		return err
	}
	text := "Nothing could be published."
	if len(opened) > 0 {
		text = strings.Join(opened, ", ") + ": open for booking."
	}
	for _, code := range slices.Sorted(maps.Keys(stay)) {
		text += " " + code + " stays a sketch: " + stay[code]
	}
	s.say(c, text)
	return c.Redirect(http.StatusSeeOther, "/owner/season")
}
