package frontend

import (
	"context"
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

var doorPages = map[string]Page{
	"door":       {Shop, DoorPage{}},
	"call_off":   {Shop, CallOffPage{}},
	"move_class": {Shop, CallOffPage{}},
}

// DoorPage is one class: its people in order of booking, the door, what is still to be
// decided.
type DoorPage struct {
	Layout
	Form     Form // what a button was refused for
	List     store.DoorList
	Away     []string // jars kept away from this table
	Owing    unit.Money
	Standing []DoorParty
	Waiting  []DoorParty
	Gone     []DoorParty
	Book     bool
	Door     bool // the day of the class has come: people are checked in
	Late     bool // it is that day: whoever was marked missed may still come
	Begun    bool
	Owner    bool
	Under    bool // fewer seats sold than needed to go ahead
	Can      struct{ GoAhead, CallOff, Taught bool }
}

// DoorParty is a booking with its people as the door sees them.
type DoorParty struct {
	store.BookingView
	Guests []DoorGuest
	Places string // seats in words
}

// DoorGuest is a person with their food needs, which only this class's staff see (R14).
type DoorGuest struct {
	store.PersonView
	Needs    []string
	Ask      bool // nobody has told us
	Minor    bool
	Sign     bool // a guardian signs before they come in (R11)
	Waits    bool // may be checked in
	Nameless bool
}

// CallOffPage shows who is touched before a class is called off or moved.
type CallOffPage struct {
	Layout
	Form    Form
	Class   store.ClassPage
	Touched []DoorParty
	People  int
	Paid    unit.Money // by parties that then choose
	Share   string     // of the credit they may choose instead
	Days    int        // to choose
}

func (s *Site) doorRoutes(e *echo.Echo) {
	staff, owner := api.Need(shop.Staff), api.Need(shop.Owner)
	e.GET("/staff/classes/:code", func(c echo.Context) error { return s.showDoor(c, http.StatusOK, Form{}) }, staff)
	e.POST("/staff/classes/:code/seats/:seat/:what", s.atDoor, staff)
	e.POST("/staff/classes/:code/goahead", s.classStep("The class goes ahead.", s.Store.GoAhead), owner)
	e.POST("/staff/classes/:code/taught", s.classStep("Noted: the class took place.", s.Store.MarkTaught), staff)
	e.GET("/staff/classes/:code/calloff", func(c echo.Context) error { return s.showCallOff(c, http.StatusOK, Form{}) }, owner)
	e.POST("/staff/classes/:code/calloff", s.callOff, owner)
	e.GET("/staff/classes/:code/move", func(c echo.Context) error { return s.showMoveClass(c, http.StatusOK, Form{}) }, owner)
	e.POST("/staff/classes/:code/move", s.moveClass, owner)
}

func (s *Site) showDoor(c echo.Context, status int, f Form) error {
	ctx, code := c.Request().Context(), c.Param("code")
	list, err := s.Store.DoorList(ctx, code)
	if err != nil {
		return err
	}
	sheet, err := s.Store.ClassSheet(ctx, code)
	if err != nil {
		return err
	}
	cl := list.Class
	p := DoorPage{Layout: s.Layout(c, cl.Code+" "+cl.Title), Form: f, List: *list, Away: sheet.Away, Book: bookable(cl.ClassCard, s.Store.Now())}
	p.Owner = p.Actor.Role == Owner
	p.Door, p.Begun = s.Store.Today() >= cl.Day, s.Store.Now() >= cl.StartsAt
	p.Late = s.Store.Today() == cl.Day
	p.Under = cl.Taken < cl.MinSeats
	p.Can.GoAhead = shop.ClassMoves.May(cl.State, shop.GoingAhead)
	p.Can.CallOff = shop.ClassMoves.May(cl.State, shop.ClassOff) && !p.Begun
	p.Can.Taught = shop.ClassMoves.May(cl.State, shop.Taught) && p.Begun
	for _, party := range doorParties(list, sheet) {
		switch {
		case party.State.Holds():
			p.Standing = append(p.Standing, party)
			if party.Owes > 0 {
				p.Owing += party.Owes
			}
		case party.State == shop.Waiting:
			p.Waiting = append(p.Waiting, party)
		default:
			p.Gone = append(p.Gone, party)
		}
	}
	return s.Render(c, status, "door", p)
}

// doorParties puts the needs of the class sheet beside the people of the bookings.
func doorParties(list *store.DoorList, sheet *store.ClassSheet) []DoorParty {
	needs := map[shop.SeatID][]string{}
	for _, l := range sheet.Lines {
		needs[l.SeatID] = l.Needs
	}
	var out []DoorParty
	for _, b := range list.Parties {
		party := DoorParty{BookingView: b, Places: plural(b.Places, "seat", "seats")}
		if b.Watching > 0 {
			party.Places += fmt.Sprintf(", %d watching", b.Watching)
		}
		for i, m := range b.People {
			g := DoorGuest{PersonView: m, Needs: needs[m.SeatID], Ask: !m.Told, Minor: m.Age > 0 && m.Age < 18, Waits: m.State == shop.Firm}
			g.Sign = g.Minor && m.Kind == shop.GuestSeat && list.Class.MinAge > 0 && !m.GuardianSigned
			if g.Nameless = m.Name == ""; g.Nameless {
				g.Name = fmt.Sprintf("guest %d", i+1)
			}
			party.Guests = append(party.Guests, g)
		}
		out = append(out, party)
	}
	return out
}

// atDoor is a press beside one person: they came, they did not, their guardian signed.
func (s *Site) atDoor(c echo.Context) error {
	ctx, by := c.Request().Context(), api.Actor(c)
	n, err := strconv.ParseInt(c.Param("seat"), 10, 64)
	if err != nil {
		return shop.Missing("The seat")
	}
	seat := shop.SeatID(n)
	list, err := s.Store.DoorList(ctx, c.Param("code"))
	if err != nil {
		return err
	}
	guest := guestAt(list, seat)
	if guest == nil {
		return shop.Missing("The seat")
	}
	switch c.Param("what") {
	case "came":
		err = s.Store.CheckIn(ctx, by, seat)
	case "missed":
		err = s.Store.MarkMissed(ctx, by, seat)
	case "signed":
		err = s.Store.SignGuardian(ctx, by, guest.GuestID)
	default:
		return echo.NewHTTPError(http.StatusNotFound)
	}
	if err != nil {
		var f Form
		if !refused(&f, err) {
			return err
		}
		return s.showDoor(c, api.Status(err), f)
	}
	return c.Redirect(http.StatusSeeOther, fmt.Sprintf("/staff/classes/%s#seat-%d", list.Class.Code, seat))
}

func guestAt(list *store.DoorList, seat shop.SeatID) *store.PersonView {
	for _, b := range list.Parties {
		for i := range b.People {
			if b.People[i].SeatID == seat {
				return &b.People[i]
			}
		}
	}
	return nil
}

func (s *Site) classStep(said string, do func(context.Context, shop.Actor, string) error) echo.HandlerFunc {
	return func(c echo.Context) error {
		code := c.Param("code")
		if err := do(c.Request().Context(), api.Actor(c), code); err != nil {
			var f Form
			if !refused(&f, err) {
				return err
			}
			return s.showDoor(c, api.Status(err), f)
		}
		s.say(c, said)
		return c.Redirect(http.StatusSeeOther, "/staff/classes/"+code)
	}
}

func (s *Site) showCallOff(c echo.Context, status int, f Form) error {
	return s.showTouched(c, status, "call_off", "Call off ", f)
}

func (s *Site) showMoveClass(c echo.Context, status int, f Form) error {
	return s.showTouched(c, status, "move_class", "Move ", f)
}

// showTouched shows everybody a change of a class touches, before it is made.
func (s *Site) showTouched(c echo.Context, status int, page, title string, f Form) error {
	list, err := s.Store.DoorList(c.Request().Context(), c.Param("code"))
	if err != nil {
		return err
	}
	r := s.Store.Rules
	p := CallOffPage{Layout: s.Layout(c, title+list.Class.Code), Form: f, Class: list.Class, Share: r.CalledOffShare.String(), Days: r.AnswerDays}
	for _, party := range doorParties(list, &store.ClassSheet{}) {
		if !party.State.Holds() && party.State != shop.Waiting {
			continue
		}
		p.Touched = append(p.Touched, party)
		if party.State.Holds() {
			p.People += len(party.People)
			p.Paid += party.Paid - party.Kept
		}
	}
	return s.Render(c, status, page, p)
}

func (s *Site) moveClass(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	code, reason := c.Param("code"), trimmed(f.Values, "reason")
	at, perr := time.ParseInLocation("2006-01-02T15:04", strings.Replace(trimmed(f.Values, "starts"), " ", "T", 1), s.Store.Loc)
	if perr != nil {
		f.Fail("starts", "Write the moment as 2026-11-21 14:00.")
	}
	switch {
	case reason == "":
		f.Fail("reason", "Please write why: it stands in the message to everybody.")
	case len([]rune(reason)) > 200:
		f.Fail("reason", "At most 200 characters.")
	}
	if !f.OK() {
		return s.showMoveClass(c, http.StatusUnprocessableEntity, f)
	}
	if err := s.Store.MoveClass(c.Request().Context(), api.Actor(c), code, unit.InstantOf(at), reason); err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.showMoveClass(c, api.Status(err), f)
	}
	s.say(c, code+" is moved to "+unit.InstantOf(at).Show(s.Store.Loc)+". Everybody is written to; each party that paid may stay or choose.")
	return c.Redirect(http.StatusSeeOther, "/staff/classes/"+code)
}

func (s *Site) callOff(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	code := c.Param("code")
	reason := trimmed(f.Values, "reason")
	if reason == "" {
		f.Fail("reason", "Please write why: it stands in the message to everybody.")
		return s.showCallOff(c, http.StatusUnprocessableEntity, f)
	}
	if len([]rune(reason)) > 200 {
		f.Fail("reason", "At most 200 characters.")
		return s.showCallOff(c, http.StatusUnprocessableEntity, f)
	}
	if err := s.Store.CallOff(c.Request().Context(), api.Actor(c), code, reason); err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.showCallOff(c, api.Status(err), f)
	}
	s.say(c, code+" is called off. Everybody is written to; each party that paid is asked to choose.")
	return c.Redirect(http.StatusSeeOther, "/staff/classes/"+code)
}
