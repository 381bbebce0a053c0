package frontend

import (
	"context"
	"net/http"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"flitchbook/planner/unit"
)

var demoPages = map[string]Page{
	"demo_clock": {Public, DemoClockPage{}},
}

// Demo is what the invented shop adds to the pages: a clock that can be moved and
// people to sign in as. It is nil in earnest.
type Demo struct {
	Move     func(ctx context.Context, to unit.Instant) error // moves the clock forward; everything due happens on the way
	Moments  func() []DemoMoment                              // worth a visit, still ahead
	People   []DemoPerson
	Password string
	MailDir  string // where the shop's mails lie
}

// DemoMoment is a moment of the invented story.
type DemoMoment struct {
	At   unit.Instant
	Text string
}

// DemoPerson can be signed in as.
type DemoPerson struct{ Login, Name, Role string }

// DemoClockPage moves the clock.
type DemoClockPage struct {
	Layout
	Form     Form
	At       unit.Instant
	Moments  []DemoMoment
	People   []DemoPerson
	Password string
	MailDir  string
}

const demoLayout = "2006-01-02T15:04"

func (s *Site) demoRoutes(e *echo.Echo) {
	if s.Demo == nil {
		return
	}
	e.GET("/demo/clock", func(c echo.Context) error { return s.demoClock(c, http.StatusOK, Form{}) })
	e.POST("/demo/clock", s.moveDemoClock)
}

func (s *Site) demoClock(c echo.Context, status int, f Form) error {
	if f.Values == nil {
		f.Values = map[string][]string{"to": {s.Store.Now().In(s.Store.Loc).Format(demoLayout)}}
	}
	return s.Render(c, status, "demo_clock", DemoClockPage{
		Layout: s.Layout(c, "The demo's clock"), Form: f, At: s.Store.Now(), Moments: s.Demo.Moments(),
		People: s.Demo.People, Password: s.Demo.Password, MailDir: s.Demo.MailDir,
	})
}

func (s *Site) moveDemoClock(c echo.Context) error {
	values, err := c.FormParams()
	if err != nil {
		return s.Fail(c, echo.NewHTTPError(http.StatusBadRequest))
	}
	f := Form{Values: values}
	at, perr := time.ParseInLocation(demoLayout, strings.Replace(strings.TrimSpace(values.Get("to")), " ", "T", 1), s.Store.Loc)
	if perr != nil {
		f.Fail("to", "Write the moment as 2026-10-28 16:00.")
		return s.demoClock(c, http.StatusUnprocessableEntity, f)
	}
	if err := s.Demo.Move(c.Request().Context(), unit.InstantOf(at)); err != nil {
		if refused(&f, err) {
			return s.demoClock(c, http.StatusUnprocessableEntity, f)
		}
		return s.Fail(c, err)
	}
	return c.Redirect(http.StatusSeeOther, "/demo/clock")
}
