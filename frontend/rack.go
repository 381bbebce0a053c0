package frontend

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

var rackPages = map[string]Page{
	"today":       {Shop, TodayPage{}},
	"rack":        {Shop, RackPage{}},
	"holds":       {Shop, HoldsPage{}},
	"smoke_days":  {Shop, SmokeDaysPage{}},
	"smoke_day":   {Shop, SmokeDayPage{}},
	"smoke_sheet": {Paper, SmokeSheetPage{}},
}

// TodayPage is what the day holds.
type TodayPage struct {
	Layout
	Day     store.TodaySheet
	Kitchen bool            // sees heads and needs, not the bench
	Trouble []store.Trouble // the owner's
}

// RackPage is the cure cooler.
type RackPage struct {
	Layout
	Map   store.RackMap
	Form  Form
	Owner bool
}

// HoldsPage is what stands still, and where it is decided.
type HoldsPage struct {
	Layout
	Holds  []store.HoldView
	Rooms  []Choice
	Form   Form // a new hold
	Decide Form // a decision; its prefix names the hold
	Drafts []store.DateDraft
	Owner  bool
}

// SmokeDaysPage lists the smoke days ahead.
type SmokeDaysPage struct {
	Layout
	Days   []store.SmokeDay
	Drafts []store.DateDraft
	Form   Form
	Owner  bool
}

// SmokeDayPage is one load.
type SmokeDayPage struct {
	Layout
	Sheet store.SmokeSheet
	Form  Form
	Owner bool
}

// SmokeSheetPage is a load on paper.
type SmokeSheetPage struct {
	Sheet
	Load store.SmokeSheet
}

func (s *Site) rackRoutes(e *echo.Echo) {
	e.GET("/staff/today", s.today, api.Need(shop.Staff, shop.Kitchen))
	e.GET("/staff/rack", s.rack, api.Need(shop.Staff))
	e.GET("/staff/holds", s.holds, api.Need(shop.Staff))
	e.POST("/staff/holds", s.openHold, api.Need(shop.Staff))
	e.POST("/staff/holds/:id", s.decideHold, api.Need(shop.Staff))
	e.POST("/owner/dates", s.tellDates, api.Need(shop.Owner))
	e.GET("/staff/smoke", s.smokeDays, api.Need(shop.Staff))
	e.GET("/staff/smoke/:day", s.smokeDay, api.Need(shop.Staff))
	e.POST("/staff/smoke/:day", s.planLoad, api.Need(shop.Staff))
	e.POST("/staff/smoke/:day/hooks", s.setHooks, api.Need(shop.Owner))
	e.GET("/staff/smoke/:day/sheet", s.smokeSheet, api.Need(shop.Staff))
}

func (s *Site) today(c echo.Context) error {
	d, err := s.Store.TodaySheet(c.Request().Context())
	if err != nil {
		return err
	}
	p := TodayPage{Layout: s.Layout(c, "Today"), Day: *d}
	p.Kitchen = p.Actor.Role == Kitchen
	if p.Actor.Role == Owner {
		if p.Trouble, err = s.Store.Troubles(c.Request().Context()); err != nil {
			return err
		}
	}
	return s.Render(c, http.StatusOK, "today", p)
}

func (s *Site) rack(c echo.Context) error {
	m, err := s.Store.RackMap(c.Request().Context())
	if err != nil {
		return err
	}
	return s.Render(c, http.StatusOK, "rack", RackPage{Layout: s.Layout(c, "Rack"), Map: *m})
}

func (s *Site) holds(c echo.Context) error {
	return s.showHolds(c, http.StatusOK, HoldsPage{})
}

func (s *Site) showHolds(c echo.Context, status int, p HoldsPage) error {
	ctx := c.Request().Context()
	p.Layout = s.Layout(c, "Holds")
	p.Owner = p.Actor.Role == Owner
	var err error
	if p.Holds, err = s.Store.Holds(ctx); err != nil {
		return err
	}
	if p.Drafts, err = s.Store.DateDrafts(ctx); err != nil {
		return err
	}
	m, err := s.Store.RackMap(ctx)
	if err != nil {
		return err
	}
	p.Rooms = []Choice{{Value: "", Label: "no room: the tags below"}}
	for _, r := range m.Rooms {
		p.Rooms = append(p.Rooms, Choice{Value: r.Code, Label: "all that lie in the " + strings.ToLower(r.Name)})
	}
	return s.Render(c, status, "holds", p)
}

// For is the form of one hold's decision.
func (p HoldsPage) For(id shop.HoldID) Form {
	if prefix := fmt.Sprintf("h%d-", id); p.Decide.Prefix != prefix {
		return Form{Prefix: prefix}
	}
	return p.Decide
}

func tagList(text string) []string {
	return strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ' ' || r == '\n' || r == '\r' || r == '\t' || r == ';' })
}

func (s *Site) openHold(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	_, err = s.Store.OpenHold(c.Request().Context(), api.Actor(c), f.Values.Get("room"), tagList(f.Values.Get("tags")), f.Values.Get("reason"))
	if err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.showHolds(c, api.Status(err), HoldsPage{Form: f})
	}
	s.say(c, "On hold. Nothing of it moves until a named person decides.")
	return c.Redirect(http.StatusSeeOther, "/staff/holds")
}

func (s *Site) decideHold(c echo.Context) error {
	id, err := strconv.ParseInt(c.Param("id"), 10, 64)
	if err != nil {
		return echo.NewHTTPError(http.StatusNotFound)
	}
	f, err := formOf(c)
	if err != nil {
		return err
	}
	f.Prefix = fmt.Sprintf("h%d-", id)
	act, words := s.Store.Release, "Released."
	switch f.Values.Get("what") {
	case "release":
	case "dump":
		act, words = s.Store.Dump, "Dumped, and its people are told."
	default:
		return echo.NewHTTPError(http.StatusBadRequest)
	}
	err = act(c.Request().Context(), api.Actor(c), shop.HoldID(id), tagList(f.Values.Get("tags")), f.Values.Get("why"))
	if err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.showHolds(c, api.Status(err), HoldsPage{Decide: f})
	}
	s.say(c, words)
	return c.Redirect(http.StatusSeeOther, "/staff/holds")
}

func (s *Site) tellDates(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	var ids []shop.BookingID
	for _, v := range f.Values["booking"] {
		if n, err := strconv.ParseInt(v, 10, 64); err == nil {
			ids = append(ids, shop.BookingID(n))
		}
	}
	if len(ids) == 0 {
		return echo.NewHTTPError(http.StatusBadRequest)
	}
	n, err := s.Store.TellDates(c.Request().Context(), api.Actor(c), ids...)
	if err != nil {
		return err
	}
	s.say(c, plural(n, "party is told its new date.", "parties are told their new date."))
	return c.Redirect(http.StatusSeeOther, "/staff/holds")
}

func (s *Site) smokeDays(c echo.Context) error {
	ctx := c.Request().Context()
	days, err := s.Store.SmokeDays(ctx)
	if err != nil {
		return err
	}
	p := SmokeDaysPage{Layout: s.Layout(c, "Smoke"), Days: days}
	p.Owner = p.Actor.Role == Owner
	if p.Drafts, err = s.Store.DateDrafts(ctx); err != nil {
		return err
	}
	return s.Render(c, http.StatusOK, "smoke_days", p)
}

func dayParam(c echo.Context) (unit.Day, error) {
	d, err := unit.ParseDay(c.Param("day"))
	if err != nil {
		return 0, echo.NewHTTPError(http.StatusNotFound)
	}
	return d, nil
}

func (s *Site) smokeDay(c echo.Context) error {
	d, err := dayParam(c)
	if err != nil {
		return err
	}
	return s.showSmokeDay(c, http.StatusOK, d, Form{})
}

func (s *Site) showSmokeDay(c echo.Context, status int, d unit.Day, f Form) error {
	sh, err := s.Store.SmokeSheet(c.Request().Context(), d)
	if err != nil {
		return err
	}
	p := SmokeDayPage{Layout: s.Layout(c, "Smoke, "+d.Show()), Sheet: *sh, Form: f}
	p.Owner = p.Actor.Role == Owner
	return s.Render(c, status, "smoke_day", p)
}

func (s *Site) planLoad(c echo.Context) error {
	d, err := dayParam(c)
	if err != nil {
		return err
	}
	plan, err := s.Store.PlanLoad(c.Request().Context(), api.Actor(c), d)
	if err != nil {
		var f Form
		if !refused(&f, err) {
			return err
		}
		return s.showSmokeDay(c, api.Status(err), d, f)
	}
	s.say(c, fmt.Sprintf("Planned: %d slabs hang, %d hooks stay free.", plan.Load.Hooks, plan.Load.Free))
	return c.Redirect(http.StatusSeeOther, "/staff/smoke/"+d.String())
}

func (s *Site) setHooks(c echo.Context) error {
	d, err := dayParam(c)
	if err != nil {
		return err
	}
	f, err := formOf(c)
	if err != nil {
		return err
	}
	n, perr := strconv.Atoi(strings.TrimSpace(f.Values.Get("hooks")))
	if perr != nil {
		f.Fail("hooks", "Write a number of hooks.")
		return s.showSmokeDay(c, http.StatusUnprocessableEntity, d, f)
	}
	if err := s.Store.SetHouseHooks(c.Request().Context(), api.Actor(c), d, n); err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.showSmokeDay(c, api.Status(err), d, f)
	}
	s.say(c, fmt.Sprintf("The shop's own bacon takes %d hooks on %s. Plan the load again.", n, d.Show()))
	return c.Redirect(http.StatusSeeOther, "/staff/smoke/"+d.String())
}

func (s *Site) smokeSheet(c echo.Context) error {
	d, err := dayParam(c)
	if err != nil {
		return err
	}
	sh, err := s.Store.SmokeSheet(c.Request().Context(), d)
	if err != nil {
		return err
	}
	p := SmokeSheetPage{Sheet: Sheet{Layout: s.Layout(c, "Smoke sheet, "+d.Show()), Version: fmt.Sprintf("version %d", sh.Revision), Large: c.QueryParam("large") != ""}, Load: *sh}
	return s.Render(c, http.StatusOK, "smoke_sheet", p)
}
