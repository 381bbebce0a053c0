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
	Find    Form
	Sell    []store.ClassCard // the next classes with room: a press away from the counter's booking
	Kitchen bool              // sees heads and needs, not the bench
	Trouble []store.Trouble   // the owner's
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

// mostToSell is how many classes the day's sheet offers to sell; the list of classes has all.
const mostToSell = 6

func (s *Site) today(c echo.Context) error {
	d, err := s.Store.TodaySheet(c.Request().Context())
	if err != nil {
		return err
	}
	p := TodayPage{Layout: s.Layout(c, "Today"), Day: *d}
	if p.Kitchen = p.Actor.Role == Kitchen; !p.Kitchen {
		season, err := s.Store.SeasonPage(c.Request().Context())
		if err != nil {
			return err
		}
		for _, class := range season.Classes {
			if class.OnSale && class.Left > 0 && len(p.Sell) < mostToSell {
				p.Sell = append(p.Sell, class)
			}
		}
	}
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
