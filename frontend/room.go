package frontend

import (
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

var roomPages = map[string]Page{
	"rooms":      {Shop, RoomsPage{}},
	"room":       {Shop, RoomPage{}},
	"room_sheet": {Paper, RoomSheetPage{}},
}

// RoomsPage lists the cold rooms; the owner adds to them.
type RoomsPage struct {
	Layout
	Rooms  []store.RoomLine
	Today  unit.Day
	Owner  bool
	Room   Form // a new room
	Places Form // more places
	Kinds  []Choice
	Which  []Choice
}

// RoomPage is one room's log over a span of days.
type RoomPage struct {
	Layout
	RoomShown
	Form Form // a thermometer's file
	Note Form // what somebody says of a stretch
	Span Form
}

// RoomSheetPage is a log on paper.
type RoomSheetPage struct {
	Sheet
	RoomShown
}

// RoomShown is a log as both pages show it.
type RoomShown struct {
	Log        store.RoomLog
	Picture    RoomPicture
	Rows       []RoomRow
	Runs       []string
	Zone       *time.Location
	Before     unit.Day
	After      unit.Day
	Cold       string
	TwentyFive bool // the span has an hour that comes twice
}

func (s *Site) roomRoutes(e *echo.Echo) {
	e.GET("/staff/rooms", s.rooms, api.Need(shop.Staff))
	e.POST("/owner/rooms", s.addRoom, api.Need(shop.Owner))
	e.POST("/owner/rooms/places", s.addPlaces, api.Need(shop.Owner))
	e.GET("/staff/rooms/:code", s.coldRoom, api.Need(shop.Staff))
	e.GET("/staff/rooms/:code/sheet", s.roomSheet, api.Need(shop.Staff))
	e.POST("/staff/rooms/:code/readings", s.importReadings, api.Need(shop.Staff))
	e.POST("/staff/rooms/:code/notes", s.noteRoom, api.Need(shop.Staff))
}

func (s *Site) rooms(c echo.Context) error { return s.showRooms(c, http.StatusOK, RoomsPage{}) }

func (s *Site) showRooms(c echo.Context, status int, p RoomsPage) error {
	p.Layout, p.Today = s.Layout(c, "Cold rooms"), s.Store.Today()
	p.Owner = p.Actor.Role == Owner
	var err error
	if p.Rooms, err = s.Store.Rooms(c.Request().Context()); err != nil {
		return err
	}
	for _, r := range p.Rooms {
		p.Which = append(p.Which, Choice{Value: r.Code, Label: r.Name})
	}
	p.Kinds = []Choice{{Value: "rack", Label: "rack places: slabs in cure"}, {Value: "overflow", Label: "overflow places: given out by the owner"},
		{Value: "shelf", Label: "shelf places: packets to be fetched"}, {Value: "freezer", Label: "freezer places"}}
	return s.Render(c, status, "rooms", p)
}

func (s *Site) addRoom(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	f.Prefix = "r-"
	if err := s.Store.AddRoom(c.Request().Context(), api.Actor(c), f.Values.Get("code"), f.Values.Get("name")); err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.showRooms(c, api.Status(err), RoomsPage{Room: f})
	}
	s.say(c, "The room is added. Give it places below, and let its thermometer write.")
	return c.Redirect(http.StatusSeeOther, "/staff/rooms")
}

func (s *Site) addPlaces(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	f.Prefix = "p-"
	n, perr := strconv.Atoi(trimmed(f.Values, "count"))
	if perr != nil {
		f.Fail("count", "Write how many places, such as 4.")
		return s.showRooms(c, http.StatusUnprocessableEntity, RoomsPage{Places: f})
	}
	codes, err := s.Store.AddPlaces(c.Request().Context(), api.Actor(c), f.Values.Get("room"), shop.PlaceKind(f.Values.Get("kind")), f.Values.Get("prefix"), n)
	if err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.showRooms(c, api.Status(err), RoomsPage{Places: f})
	}
	s.say(c, "Added: "+strings.Join(codes, ", ")+".")
	return c.Redirect(http.StatusSeeOther, "/staff/rooms")
}

// shown reads the log an address asks for: ?from=2026-11-08&days=2; today without.
func (s *Site) shown(c echo.Context, f *Form) (RoomShown, error) {
	day, days := s.Store.Today(), 1
	if text := strings.TrimSpace(c.QueryParam("from")); text != "" {
		d, err := unit.ParseDay(text)
		if err != nil {
			f.Fail("from", "Write the day as 2026-11-08.")
		} else {
			day = d
		}
	}
	if text := strings.TrimSpace(c.QueryParam("days")); text != "" {
		n, err := strconv.Atoi(text)
		if err != nil || n < 1 || n > 31 {
			f.Fail("days", "Show between 1 and 31 days.")
		} else {
			days = n
		}
	}
	l, err := s.Store.RoomLog(c.Request().Context(), c.Param("code"), day, days)
	if err != nil {
		return RoomShown{}, err
	}
	return s.roomShown(l), nil
}

// roomShown draws a log.
func (s *Site) roomShown(l *store.RoomLog) RoomShown {
	r := RoomShown{Log: *l, Picture: drawRoom(l, s.Store.Loc), Rows: roomRows(l, s.Store.Loc), Zone: s.Store.Loc, Before: l.Day - unit.Day(l.Days), After: l.Day + unit.Day(l.Days), Cold: elapsed(l.Cold)}
	for _, run := range l.Runs {
		r.Runs = append(r.Runs, runWords(run, s.Store.Loc))
	}
	for _, h := range hours(l.From, l.To, s.Store.Loc) {
		r.TwentyFive = r.TwentyFive || h.twice
	}
	return r
}

func (s *Site) coldRoom(c echo.Context) error { return s.showRoom(c, http.StatusOK, RoomPage{}) }

func (s *Site) showRoom(c echo.Context, status int, p RoomPage) error {
	p.Span.Prefix = "s-"
	var err error
	if p.RoomShown, err = s.shown(c, &p.Span); err != nil {
		return err
	}
	if !p.Span.OK() {
		p.Span.Values, status = url.Values{"from": {c.QueryParam("from")}, "days": {c.QueryParam("days")}}, http.StatusUnprocessableEntity
	}
	p.Note.Prefix = "n-"
	p.Layout = s.Layout(c, p.Log.Room.Name+", "+p.Log.Day.Show())
	return s.Render(c, status, "room", p)
}

func (s *Site) roomSheet(c echo.Context) error {
	var f Form
	r, err := s.shown(c, &f)
	if err != nil {
		return err
	}
	if !f.OK() {
		return echo.NewHTTPError(http.StatusUnprocessableEntity, f.Problems()[0].Text)
	}
	title := fmt.Sprintf("%s, %s", r.Log.Room.Name, r.Log.Day.ShowYear())
	return s.Render(c, http.StatusOK, "room_sheet", RoomSheetPage{Sheet: Sheet{Layout: s.Layout(c, title)}, RoomShown: r})
}

// largestFile is the most a thermometer's file may hold; a year of quarters of an hour
// takes about half of it.
const largestFile = 1 << 20

func (s *Site) importReadings(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	text := f.Values.Get("file")
	if up, err := c.FormFile("upload"); err == nil && up.Size > 0 {
		if up.Size > largestFile {
			f.Fail("file", "This file is larger than 1 MB. Send it in parts.")
			return s.showRoom(c, http.StatusUnprocessableEntity, RoomPage{Form: f})
		}
		r, err := up.Open()
		if err != nil {
			return err
		}
		defer r.Close()
		b, err := io.ReadAll(io.LimitReader(r, largestFile))
		if err != nil {
			return err
		}
		text = string(b)
		f.Values.Set("file", strings.ToValidUTF8(text, "\ufffd")) // so that it can be set right here
	}
	got, err := s.Store.ImportReadings(c.Request().Context(), api.Actor(c), c.Param("code"), text)
	if err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.showRoom(c, api.Status(err), RoomPage{Form: f})
	}
	words := fmt.Sprintf("%s read, %d of them new.", plural(got.Read, "reading", "readings"), got.New)
	if len(got.Opened) > 0 {
		words += " They broke the limit: slabs are on hold."
	}
	s.say(c, words)
	return c.Redirect(http.StatusSeeOther, s.roomAt(c.Param("code"), got.From.Day(s.Store.Loc)))
}

func (s *Site) roomAt(code string, day unit.Day) string {
	return "/staff/rooms/" + url.PathEscape(code) + "?from=" + day.String()
}

func (s *Site) noteRoom(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	f.Prefix = "n-"
	moment := func(name string) unit.Instant {
		text := trimmed(f.Values, name)
		if text == "" {
			return 0
		}
		t, err := time.ParseInLocation("2006-01-02T15:04", strings.Replace(text, " ", "T", 1), s.Store.Loc)
		if err != nil {
			f.Fail(name, "Write day and time as 2026-11-08 02:15.")
			return 0
		}
		return unit.InstantOf(t)
	}
	from, to := moment("from"), moment("to")
	if f.OK() {
		err = s.Store.NoteRoom(c.Request().Context(), api.Actor(c), c.Param("code"), from, to, f.Values.Get("text"))
	}
	if err != nil || !f.OK() {
		status := http.StatusUnprocessableEntity
		if err != nil {
			if !refused(&f, err) {
				return err
			}
			status = api.Status(err)
		}
		return s.showRoom(c, status, RoomPage{Note: f})
	}
	s.say(c, "It stands beside the log, with your name.")
	return c.Redirect(http.StatusSeeOther, s.roomAt(c.Param("code"), from.Day(s.Store.Loc)))
}
