package frontend

import (
	"fmt"
	"net/http"
	"net/url"
	"strconv"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
)

var guestPages = map[string]Page{
	"guest": {Public, GuestPage{}},
}

// GuestPage is what one person of a party sees: their own name, answer and spice, no
// price and nobody else. An answer given before is not shown again, since the link may
// have passed through the payer's hands.
type GuestPage struct {
	Layout
	Guest  store.GuestPage
	Form   Form
	Needs  NeedsField
	Picks  []Choice
	Told   bool
	Closed bool // the class has begun or the seat was let go
	Secret string
	Wine   int // youngest that wine is counted for
}

func (s *Site) guestRoutes(e *echo.Echo) {
	e.GET("/g/:secret", s.guest)
	e.POST("/g/:secret", s.saveGuest)
}

func (s *Site) guestBySecret(c echo.Context) (*store.GuestPage, error) {
	c.Response().Header().Set("X-Robots-Tag", "noindex")
	return s.Store.GuestPage(c.Request().Context(), c.Param("secret"))
}

func (s *Site) guest(c echo.Context) error {
	g, err := s.guestBySecret(c)
	if err != nil {
		return err
	}
	age := ""
	if g.Age > 0 {
		age = strconv.Itoa(g.Age)
	}
	f := Form{Values: url.Values{"name": {g.Name}, "age": {age}, "needs": {string(shop.NotTold)}}}
	if g.NeedsState != shop.NotTold {
		f.Values.Set("needs", "")
	}
	if g.Wine {
		f.Values.Set("wine", "yes")
	}
	for _, p := range g.Picks {
		code := p.Code
		if p.State == shop.OnTheDay {
			code = shop.OnTheDayPick
		}
		f.Values.Set(fmt.Sprintf("pick%d", p.Slot), code)
	}
	return s.showGuest(c, http.StatusOK, g, f)
}

func (s *Site) showGuest(c echo.Context, status int, g *store.GuestPage, f Form) error {
	l := s.Layout(c, "Your place")
	l.Path = "/g"
	p := GuestPage{Layout: l, Guest: *g, Form: f, Picks: pickChoices(g.Jars), Told: g.NeedsState != shop.NotTold, Secret: c.Param("secret"),
		Closed: !g.State.Holds() && g.State != shop.Waiting || g.Class.StartsAt <= s.Store.Now(), Wine: s.Store.Rules.WineAge}
	p.Form.Order = []string{"name", "age", "needs", "needs_words", "pick1", "pick2"}
	p.Needs = needsField(&p.Form, "", p.Told)
	return s.Render(c, status, "guest", p)
}

// saveGuest takes the answers one by one; what one of them is refused for does not undo
// the others, and nothing typed is lost.
func (s *Site) saveGuest(c echo.Context) error {
	g, err := s.guestBySecret(c)
	if err != nil {
		return err
	}
	f, err := formOf(c)
	if err != nil {
		return err
	}
	ctx, by := c.Request().Context(), shop.Customer("guest by link")
	status := 0
	try := func(err error) error {
		if err == nil {
			return nil
		}
		if !refused(&f, err) {
			return err
		}
		status = max(status, api.Status(err))
		return nil
	}
	needs, age := readNeeds(&f, ""), readAge(&f, "age")
	if !f.OK() {
		return s.showGuest(c, http.StatusUnprocessableEntity, g, f)
	}
	if err := needs.Check(); err != nil {
		refused(&f, err)
		return s.showGuest(c, http.StatusUnprocessableEntity, g, f)
	}
	if name, wine := f.Values.Get("name"), f.Values.Get("wine") == "yes"; name != g.Name || age != g.Age || wine != g.Wine {
		if err := try(s.Store.RenameGuest(ctx, by, g.ID, name, g.Email, age, wine)); err != nil {
			return err
		}
	}
	if needs.State != "" {
		if err := try(s.Store.SaveNeeds(ctx, by, g.ID, needs)); err != nil {
			return err
		}
	}
	for _, p := range g.Picks {
		code := p.Code
		if p.State == shop.OnTheDay {
			code = shop.OnTheDayPick
		}
		field := fmt.Sprintf("pick%d", p.Slot)
		if chosen := f.Values.Get(field); chosen != code && f.Values.Has(field) {
			if err := try(s.Store.SavePick(ctx, by, g.ID, p.Slot, chosen)); err != nil {
				return err
			}
		}
	}
	if !f.OK() {
		if now, err := s.guestBySecret(c); err == nil {
			g = now
		}
		return s.showGuest(c, status, g, f)
	}
	s.say(c, "Thank you, it is noted. You can change it until the class starts.")
	return c.Redirect(http.StatusSeeOther, "/g/"+c.Param("secret"))
}
