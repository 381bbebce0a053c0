package frontend

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

var grindPages = map[string]Page{
	"grind":       {Shop, GrindPage{}},
	"grind_sheet": {Paper, GrindSheetPage{}},
}

// GrindPage is the grinding log and where an entry is made.
type GrindPage struct {
	Layout
	Form  Form // an entry
	Clean Form
	Rows  []int // sources asked for
	Log   store.GrindLog
	From  unit.Day
	To    unit.Day
}

// GrindSheetPage is the log on paper.
type GrindSheetPage struct {
	Sheet
	Log  store.GrindLog
	From unit.Day
	To   unit.Day
}

// grindSources is how many sources one entry asks for.
const grindSources = 4

// grindDays is how many days the log shows without being asked: all that has to be kept.
const grindDays = 366

func (s *Site) grindRoutes(e *echo.Echo) {
	g := e.Group("/staff/grind", api.Need(shop.Staff))
	g.GET("", func(c echo.Context) error { return s.grind(c, http.StatusOK, GrindPage{}) })
	g.POST("", s.addGrind)
	g.GET("/sheet", s.grindSheet)
}

func (s *Site) grind(c echo.Context, status int, p GrindPage) error {
	p.Layout, p.To = s.Layout(c, "Grinding log"), s.Store.Today()
	p.From, p.Clean.Prefix = p.To-grindDays, "k-"
	for i := range grindSources {
		p.Rows = append(p.Rows, i+1)
	}
	log, err := s.Store.GrindLog(c.Request().Context(), p.From, p.To)
	if err != nil {
		return err
	}
	p.Log = *log
	return s.Render(c, status, "grind", p)
}

func (s *Site) grindSheet(c echo.Context) error {
	p := GrindSheetPage{Sheet: Sheet{Layout: s.Layout(c, "Grinding log"), Large: c.QueryParam("large") != ""}, To: s.Store.Today()}
	p.From = p.To - grindDays
	log, err := s.Store.GrindLog(c.Request().Context(), p.From, p.To)
	if err != nil {
		return err
	}
	p.Log = *log
	return s.Render(c, http.StatusOK, "grind_sheet", p)
}

// moment reads a day and a clock as typed; both empty is now.
func (s *Site) moment(f *Form, name string) unit.Instant {
	text := strings.Replace(trimmed(f.Values, name), "T", " ", 1)
	if text == "" {
		return 0
	}
	t, err := time.ParseInLocation("2006-01-02 15:04", text, s.Store.Loc)
	if err != nil {
		f.Fail(name, "Write it as 2026-11-12 14:30, or leave it empty for now.")
		return 0
	}
	return unit.InstantOf(t)
}

func (s *Site) addGrind(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	n := store.NewGrind{Cleaned: f.Values.Get("cleaned") != "", Product: f.Values.Get("product"), Note: f.Values.Get("note"), At: s.moment(&f, "at")}
	if text := trimmed(f.Values, "weight"); text != "" && !n.Cleaned {
		n.Weight = inPounds(&f, "weight")
	}
	if text := trimmed(f.Values, "corrects"); text != "" {
		id, err := strconv.ParseInt(text, 10, 64)
		if err != nil {
			f.Fail("corrects", "Write the number of the entry.")
		}
		n.Corrects = shop.GrindID(id)
	}
	n.Sources = grindFrom(&f)
	if n.Cleaned {
		n.Sources = nil
	}
	if f.OK() {
		_, err = s.Store.AddGrind(c.Request().Context(), api.Actor(c), n)
	}
	if err != nil || !f.OK() {
		if err != nil && !refused(&f, err) {
			return err
		}
		status := http.StatusUnprocessableEntity
		if err != nil {
			status = api.Status(err)
		}
		return s.grind(c, status, GrindPage{Form: f})
	}
	s.say(c, "It stands in the log.")
	return c.Redirect(http.StatusSeeOther, "/staff/grind")
}

// grindFrom reads the sources; a row without anything in it is none.
func grindFrom(f *Form) []store.GrindFrom {
	var out []store.GrindFrom
	for i := 1; i <= grindSources; i++ {
		at := func(name string) string { return trimmed(f.Values, fmt.Sprintf("%s%d", name, i)) }
		src := store.GrindFrom{Material: at("material"), Establishment: at("establishment"), Lot: at("lot"), Animal: at("animal")}
		if src.Material+src.Establishment+src.Lot+src.Animal+at("made") == "" {
			continue
		}
		if text := at("made"); text != "" {
			d, err := unit.ParseDay(text)
			if err != nil {
				f.Fail(fmt.Sprintf("made%d", i), "Write the day as 2026-11-10.")
			}
			src.MadeOn = d
		}
		out = append(out, src)
	}
	return out
}

// Label names a field of one source.
func (p GrindPage) Label(name string, row int) string { return fmt.Sprintf("%s %d", name, row) }
