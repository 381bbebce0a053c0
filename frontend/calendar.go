package frontend

import (
	"crypto/sha256"
	"encoding/hex"
	"net/http"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/mail/calendar"
)

var calendarPages = map[string]Page{
	"calendars":    {Shop, CalendarsPage{}},
	"own_calendar": {Public, OwnCalendarPage{}},
}

// CalendarsPage gives a signed-in person their calendar addresses.
type CalendarsPage struct {
	Layout
	Feeds  []store.FeedLink
	Public string
}

// OwnCalendarPage gives a customer or a farm the address of their own calendar.
type OwnCalendarPage struct {
	Layout
	Holds string
	Link  string
	Back  string // the page they came from
	File  string // of the class alone, to keep; "" for none
}

func (s *Site) calendarRoutes(e *echo.Echo) {
	e.GET("/calendar/public.ics", s.publicCalendar)
	e.HEAD("/calendar/public.ics", s.publicCalendar)
	e.GET("/calendar/:secret.ics", s.secretCalendar)
	e.HEAD("/calendar/:secret.ics", s.secretCalendar)
	e.GET("/b/:secret/class.ics", s.classFile)
	e.GET("/b/:secret/calendar", s.bookingCalendar)
	e.POST("/b/:secret/calendar", s.bookingCalendarRenew)
	e.GET("/o/:secret/calendar", s.farmCalendar)
	e.POST("/o/:secret/calendar", s.farmCalendarRenew)
	guard := api.Need(shop.Staff, shop.Kitchen)
	e.GET("/staff/calendars", s.calendars, guard)
	e.POST("/staff/calendars", s.calendarRenew, guard)
}

func (s *Site) publicCalendar(c echo.Context) error {
	v, err := s.Store.PublicEntries(c.Request().Context())
	if err != nil {
		return err
	}
	return s.calendarFile(c, v, "public, max-age=900")
}

func (s *Site) secretCalendar(c echo.Context) error {
	secret, ok := strings.CutSuffix(c.Param("secret.ics"), ".ics") // the router takes the whole last part for the name
	if !ok {
		return shop.Missing("The calendar")
	}
	v, err := s.Store.FeedEntries(c.Request().Context(), secret)
	if err != nil {
		return err
	}
	c.Response().Header().Set("X-Robots-Tag", "noindex")
	return s.calendarFile(c, v, "private, no-cache")
}

// calendarFile answers calendar programs, which ask again and again: a file that has
// not changed is not sent twice.
func (s *Site) calendarFile(c echo.Context, v *store.FeedView, keep string) error {
	b, err := calendar.Feed{Name: v.Name, Place: s.Store.Config.Shop, Loc: s.Store.Loc, Entries: v.Entries, Around: v.Today}.Bytes()
	if err != nil {
		return err
	}
	sum := sha256.Sum256(b)
	tag := `"` + hex.EncodeToString(sum[:16]) + `"`
	h := c.Response().Header()
	h.Set(echo.HeaderCacheControl, keep)
	h.Set("ETag", tag)
	if matches(c.Request().Header.Get("If-None-Match"), tag) {
		return c.NoContent(http.StatusNotModified)
	}
	return c.Blob(http.StatusOK, calendarType, b)
}

const calendarType = "text/calendar; charset=utf-8"

// matches reads If-None-Match (RFC 9110, 13.1.2): weak comparison, any of a list.
func matches(header, tag string) bool {
	for part := range strings.SplitSeq(header, ",") {
		part = strings.TrimPrefix(strings.TrimSpace(part), "W/")
		if part == tag || part == "*" {
			return true
		}
	}
	return false
}

func (s *Site) classFile(c echo.Context) error {
	e, err := s.Store.ClassEntry(c.Request().Context(), c.Param("secret"))
	if err != nil {
		return err
	}
	b, err := calendar.File(*e, s.Store.Config.Shop, s.Store.Loc)
	if err != nil {
		return err
	}
	h := c.Response().Header()
	h.Set(echo.HeaderCacheControl, "private, no-store")
	h.Set(echo.HeaderContentDisposition, `attachment; filename="class.ics"`)
	return c.Blob(http.StatusOK, calendarType+"; method=PUBLISH", b)
}

func (s *Site) calendars(c echo.Context) error {
	feeds, err := s.Store.FeedsFor(c.Request().Context(), api.Actor(c))
	if err != nil {
		return err
	}
	return s.Render(c, http.StatusOK, "calendars", CalendarsPage{
		Layout: s.Layout(c, "Calendars"), Feeds: feeds, Public: s.Store.Config.BaseURL + "/calendar/public.ics",
	})
}

func (s *Site) calendarRenew(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	subject, err := strconv.ParseInt(f.Values.Get("subject"), 10, 64)
	if err != nil {
		return shop.Missing("The calendar")
	}
	if _, err := s.Store.RenewFeed(c.Request().Context(), api.Actor(c), f.Values.Get("kind"), subject); err != nil {
		return err
	}
	s.say(c, "The calendar has a new address. The old one no longer answers: subscribe again.")
	return c.Redirect(http.StatusSeeOther, "/staff/calendars")
}

func (s *Site) bookingCalendar(c echo.Context) error {
	link, err := s.Store.BookingFeed(c.Request().Context(), c.Param("secret"), false)
	if err != nil {
		return err
	}
	back := "/b/" + c.Param("secret")
	return s.ownCalendar(c, OwnCalendarPage{Link: link, Back: back, File: back + "/class.ics",
		Holds: "your class, what is still to be paid, and when your bacon is ready"})
}

func (s *Site) bookingCalendarRenew(c echo.Context) error {
	if _, err := s.Store.BookingFeed(c.Request().Context(), c.Param("secret"), true); err != nil {
		return err
	}
	return c.Redirect(http.StatusSeeOther, "/b/"+c.Param("secret")+"/calendar")
}

func (s *Site) farmCalendar(c echo.Context) error {
	link, err := s.Store.OrderFarmFeed(c.Request().Context(), c.Param("secret"), false)
	if err != nil {
		return err
	}
	return s.ownCalendar(c, OwnCalendarPage{Link: link, Back: "/o/" + c.Param("secret"), Holds: "your kill days and deliveries"})
}

func (s *Site) farmCalendarRenew(c echo.Context) error {
	if _, err := s.Store.OrderFarmFeed(c.Request().Context(), c.Param("secret"), true); err != nil {
		return err
	}
	return c.Redirect(http.StatusSeeOther, "/o/"+c.Param("secret")+"/calendar")
}

func (s *Site) ownCalendar(c echo.Context, p OwnCalendarPage) error {
	// The address is the key: it must not leak by referrer, nor be kept by a search engine.
	c.Response().Header().Set("Referrer-Policy", "no-referrer")
	c.Response().Header().Set("X-Robots-Tag", "noindex")
	p.Layout = s.Layout(c, "Your calendar")
	return s.Render(c, http.StatusOK, "own_calendar", p)
}
