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
	Cure   bool // they missed it: only the spice of the slab kept for them is asked
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
	if p.Cure = g.CureUntil != 0; p.Cure {
		p.Closed, p.Picks = false, cureChoices(g.Jars)
	}
	p.Form.Order = []string{"name", "age", "needs", "needs_words", "pick1", "pick2"}
	p.Needs = needsField(&p.Form, "", p.Told, s.Store.Rules.EraseDays)
	return s.Render(c, status, "guest", p)
}

// cureChoices are the spices for a slab that is cured without its owner: there is no table
// any more to choose at.
func cureChoices(jars []store.JarChoice) []Choice {
	out := pickChoices(jars)
	out[0].Label = "None, or as the shop thinks best"
	return append(out[:1:1], out[2:]...)
}

// saveGuest takes all the answers or, when one of them is refused, none; what was typed
// stays on the page.
func (s *Site) saveGuest(c echo.Context) error {
	g, err := s.guestBySecret(c)
	if err != nil {
		return err
	}
	f, err := formOf(c)
	if err != nil {
		return err
	}
	in := shop.GuestAnswers{Name: f.Values.Get("name"), Age: readAge(&f, "age"), Wine: f.Values.Get("wine") == "yes", Answers: readNeeds(&f, ""), Picks: map[int]string{}}
	if g.CureUntil != 0 {
		in.Name, in.Age, in.Wine, in.Answers = g.Name, g.Age, g.Wine, shop.Answers{}
	}
	if !f.OK() {
		return s.showGuest(c, http.StatusUnprocessableEntity, g, f)
	}
	for _, p := range g.Picks {
		code := p.Code
		if p.State == shop.OnTheDay {
			code = shop.OnTheDayPick
		}
		field := fmt.Sprintf("pick%d", p.Slot)
		if chosen := f.Values.Get(field); chosen != code && f.Values.Has(field) {
			in.Picks[p.Slot] = chosen
		}
	}
	if err := s.Store.SaveGuest(c.Request().Context(), shop.Customer("guest by link"), g.ID, in); err != nil {
		if !refused(&f, err) {
			return err
		}
		if now, err := s.guestBySecret(c); err == nil {
			g = now
		}
		return s.showGuest(c, api.Status(err), g, f)
	}
	if g.CureUntil != 0 {
		s.say(c, "Thank you, it is noted. You can change it until "+g.CureUntil.Show(s.Store.Loc)+".")
	} else {
		s.say(c, "Thank you, it is noted. You can change it until the class starts.")
	}
	return c.Redirect(http.StatusSeeOther, "/g/"+c.Param("secret"))
}
