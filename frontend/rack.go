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
	"flitchbook/planner/heat"
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
	Ahead  store.SmokeOutlook
	Drafts []store.DateDraft
	Form   Form
	Owner  bool
}

// SmokeDayPage is one load.
type SmokeDayPage struct {
	Layout
	Sheet store.SmokeSheet
	Plan  *store.SmokeAhead  // what the plan over all loads hangs that day, where it differs
	Ahead store.SmokeOutlook // for its figures
	Form  Form               // own hooks, planning
	Take  Form
	Pair  Form
	Owner bool
}

// SmokeSheetPage is a load on paper.
type SmokeSheetPage struct {
	Sheet
	Load store.SmokeSheet
	Log  *store.LoadLog // what is written down already; nil before there is a load

	Cooling string // id of the shop's cooling rule
}

// A SmokeRow is a slab of the load among its party's.
type SmokeRow struct {
	store.SmokeLine
	First bool // of its party
	Of    int  // slabs its party hangs
}

// Rows is the load in the order it is hung: parties whole, by their first hook.
func (p SmokeSheetPage) Rows() []SmokeRow {
	var order []string
	by := map[string][]store.SmokeLine{}
	for _, l := range p.Load.Lines {
		if _, ok := by[l.Ref]; !ok {
			order = append(order, l.Ref)
		}
		by[l.Ref] = append(by[l.Ref], l)
	}
	var out []SmokeRow
	for _, ref := range order {
		for i, l := range by[ref] {
			out = append(out, SmokeRow{l, i == 0, len(by[ref])})
		}
	}
	return out
}

// Open is the hooks the shop's own bacon leaves; Left is those no slab takes.
func (p SmokeSheetPage) Open() int { return max(0, p.Load.Hooks-p.Load.HouseHooks) }

// Left is the hooks free for one slab more.
func (p SmokeSheetPage) Left() int { return max(0, p.Open()-p.Load.Used) }

// Rule is the cooling rule the shop works by; nil when it names none that is known.
func (p SmokeSheetPage) Rule() *heat.CoolingRule {
	for _, r := range heat.CoolingRules() {
		if r.ID == p.Cooling {
			return &r
		}
	}
	return nil
}

// Hours is a time as the sheet says it.
func (SmokeSheetPage) Hours(d time.Duration) string {
	if d%time.Hour == 0 {
		return plural(int(d/time.Hour), "hour", "hours")
	}
	return fmt.Sprintf("%d:%02d h", int(d.Hours()), int(d.Minutes())%60)
}

// Written is the lines of the log that stand.
func (p SmokeSheetPage) Written() []store.LogLine {
	if p.Log == nil {
		return nil
	}
	var out []store.LogLine
	for _, l := range p.Log.Lines {
		if !l.Struck {
			out = append(out, l)
		}
	}
	return out
}

// Where is a phase in words.
func (SmokeSheetPage) Where(phase string) string {
	switch phase {
	case shop.SmokePhase:
		return "smoke"
	case shop.ChillPhase:
		return "chill"
	}
	return "coming out"
}

// Warm is a temperature that may not have been read.
func (SmokeSheetPage) Warm(t *unit.Temp) string { return SmokeLogPage{}.Warm(t) }

// Blank is so many empty lines to write on.
func (p SmokeSheetPage) Blank(n int) []struct{} { return make([]struct{}, n) }

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
	e.POST("/staff/smoke/:day/take", s.takePlan, api.Need(shop.Owner))
	e.POST("/staff/smoke/:day/pair", s.checkPairing, api.Need(shop.Staff))
	e.POST("/owner/closed", s.closeDay, api.Need(shop.Owner))
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

func (s *Site) smokeDays(c echo.Context) error { return s.showSmokeDays(c, http.StatusOK, Form{}) }

func (s *Site) showSmokeDays(c echo.Context, status int, f Form) error {
	ctx := c.Request().Context()
	days, err := s.Store.SmokeDays(ctx)
	if err != nil {
		return err
	}
	p := SmokeDaysPage{Layout: s.Layout(c, "Smoke"), Days: days, Form: f}
	p.Owner = p.Actor.Role == Owner
	if p.Drafts, err = s.Store.DateDrafts(ctx); err != nil {
		return err
	}
	o, err := s.Store.SmokeOutlook(ctx)
	if err != nil {
		return err
	}
	p.Ahead = *o
	return s.Render(c, status, "smoke_days", p)
}

// closeDay closes a day to come for production.
func (s *Site) closeDay(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	d, perr := unit.ParseDay(trimmed(f.Values, "day"))
	if perr != nil {
		f.Fail("day", "Write a day such as 2026-11-27.")
		return s.showSmokeDays(c, http.StatusUnprocessableEntity, f)
	}
	dropped, err := s.Store.CloseForWork(c.Request().Context(), api.Actor(c), d, f.Values.Get("reason"))
	if err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.showSmokeDays(c, api.Status(err), f)
	}
	text := d.Show() + " is closed for work."
	if len(dropped) > 0 {
		text += " " + plural(len(dropped), "planned load is dropped.", "planned loads are dropped.")
	}
	s.say(c, text+" New dates wait below; nobody is told until you tell them.")
	return c.Redirect(http.StatusSeeOther, "/staff/smoke")
}

func dayParam(c echo.Context) (unit.Day, error) {
	d, err := unit.ParseDay(c.Param("day"))
	if err != nil {
		return 0, echo.NewHTTPError(http.StatusNotFound)
	}
	return d, nil
}

func (s *Site) smokeDay(c echo.Context) error {
	return s.showSmokeDay(c, http.StatusOK, SmokeDayPage{})
}

func (s *Site) showSmokeDay(c echo.Context, status int, p SmokeDayPage) error {
	ctx := c.Request().Context()
	d, err := dayParam(c)
	if err != nil {
		return err
	}
	sh, err := s.Store.SmokeSheet(ctx, d)
	if err != nil {
		return err
	}
	p.Layout, p.Sheet = s.Layout(c, "Smoke, "+d.Show()), *sh
	p.Owner = p.Actor.Role == Owner
	p.Take.Prefix, p.Pair.Prefix = "take-", "pair-"
	if d >= s.Store.Today() && !sh.Hanging && sh.Refused == "" {
		o, err := s.Store.SmokeOutlook(ctx)
		if err != nil {
			return err
		}
		p.Ahead = *o
		for i := range o.Ahead {
			if x := &o.Ahead[i]; x.Day == d && o.NoPlan == "" {
				p.Plan = x
			}
		}
	}
	return s.Render(c, status, "smoke_day", p)
}

// takePlan makes the plan's load the day's.
func (s *Site) takePlan(c echo.Context) error {
	d, err := dayParam(c)
	if err != nil {
		return err
	}
	f, err := formOf(c)
	if err != nil {
		return err
	}
	plan, err := s.Store.TakePlan(c.Request().Context(), api.Actor(c), d, f.Values.Get("reason"))
	if err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.showSmokeDay(c, api.Status(err), SmokeDayPage{Take: f})
	}
	s.say(c, fmt.Sprintf("The plan's load is taken: %d slabs hang, %d hooks stay free.", plan.Load.Hooks, plan.Load.Free))
	return c.Redirect(http.StatusSeeOther, "/staff/smoke/"+d.String())
}

// checkPairing looks at a slab on its hook a second time.
func (s *Site) checkPairing(c echo.Context) error {
	d, err := dayParam(c)
	if err != nil {
		return err
	}
	f, err := formOf(c)
	if err != nil {
		return err
	}
	if err := s.Store.CheckPairing(c.Request().Context(), api.Actor(c), f.Values.Get("tag"), f.Values.Get("hook")); err != nil {
		e, ok := shop.AsError(err)
		if ok && e.Kind == shop.NotFound {
			f.Fail("tag", e.Text)
		} else if !refused(&f, err) {
			return err
		}
		return s.showSmokeDay(c, api.Status(err), SmokeDayPage{Pair: f})
	}
	s.say(c, strings.ToUpper(trimmed(f.Values, "tag"))+" hangs where the record says. Its bag label may leave the tub.")
	return c.Redirect(http.StatusSeeOther, "/staff/smoke/"+d.String())
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
		return s.showSmokeDay(c, api.Status(err), SmokeDayPage{Form: f})
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
		return s.showSmokeDay(c, http.StatusUnprocessableEntity, SmokeDayPage{Form: f})
	}
	if err := s.Store.SetHouseHooks(c.Request().Context(), api.Actor(c), d, n); err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.showSmokeDay(c, api.Status(err), SmokeDayPage{Form: f})
	}
	s.say(c, fmt.Sprintf("The shop's own bacon takes %d hooks on %s. Plan the load again.", n, d.Show()))
	return c.Redirect(http.StatusSeeOther, "/staff/smoke/"+d.String())
}

// logFor is the log of a planned load.
func (s *Site) logFor(c echo.Context, sh *store.SmokeSheet, d unit.Day) (*store.LoadLog, error) {
	if !sh.Planned {
		return nil, nil
	}
	return s.Store.LoadLog(c.Request().Context(), d)
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
	p := SmokeSheetPage{Sheet: Sheet{Layout: s.Layout(c, "Smoke sheet, "+d.Show()), Version: fmt.Sprintf("version %d", sh.Revision), Large: c.QueryParam("large") != ""}, Load: *sh, Cooling: s.Store.Rules.Cooling}
	if p.Log, err = s.logFor(c, sh, d); err != nil {
		return err
	}
	return s.Render(c, http.StatusOK, "smoke_sheet", p)
}
