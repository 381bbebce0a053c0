package frontend

import (
	"net/http"
	"strconv"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
)

var amendPages = map[string]Page{
	"dumped": {Shop, DumpedPage{}},
}

// DumpedPage lists dumped slabs with what their people chose, and what curing them again
// takes and moves.
type DumpedPage struct {
	Layout
	Slabs   []store.AmendView
	Plan    *store.AgainPlan // of the slabs nobody has said no to, or of a hold
	Hold    bool             // the plan is of slabs still on hold
	Ready   int              // may be cured again when the owner says yes
	Choices []Choice
	Owner   bool
	Form    Form
	FormTag string
}

// For is the form of one slab.
func (p DumpedPage) For(tag string) Form {
	if tag != p.FormTag {
		return Form{Prefix: tag + "-"}
	}
	f := p.Form
	f.Prefix = tag + "-"
	return f
}

func (s *Site) amendRoutes(e *echo.Echo) {
	e.GET("/staff/dumped", func(c echo.Context) error { return s.showDumped(c, http.StatusOK, DumpedPage{}) }, api.Need(shop.Staff))
	e.POST("/staff/dumped/:tag", s.chooseAmend, api.Need(shop.Staff))
	e.POST("/staff/dumped/:tag/settled", s.settleAmend, api.Need(shop.Staff))
	e.POST("/owner/again", s.cureAgain, api.Need(shop.Owner))
}

func (s *Site) showDumped(c echo.Context, status int, p DumpedPage) error {
	ctx := c.Request().Context()
	p.Layout, p.Choices = s.Layout(c, "Dumped slabs"), amendChoices
	p.Owner = p.Actor.Role == Owner
	var err error
	if p.Slabs, err = s.Store.Amends(ctx); err != nil {
		return err
	}
	var tags []string
	for _, v := range p.Slabs {
		if v.DoneAt == 0 && v.Choice != shop.AmendClass {
			tags = append(tags, v.Tag)
		}
		if v.DoneAt == 0 && v.Choice == shop.AmendAgain {
			p.Ready++
		}
	}
	if id, err := strconv.ParseInt(c.QueryParam("hold"), 10, 64); err == nil {
		holds, err := s.Store.Holds(ctx)
		if err != nil {
			return err
		}
		for _, h := range holds {
			if h.ID == shop.HoldID(id) {
				p.Hold, tags = true, h.Held
			}
		}
		if only := tagList(c.QueryParam("tags")); p.Hold && len(only) > 0 {
			tags = only
		}
	}
	if len(tags) > 0 {
		if p.Plan, err = s.Store.AgainPlan(ctx, tags); err != nil {
			return err
		}
	}
	return s.Render(c, status, "dumped", p)
}

func (s *Site) chooseAmend(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	choice := shop.AmendChoice(f.Values.Get("choice"))
	if err := s.Store.ChooseAmend(c.Request().Context(), api.Actor(c), c.Param("tag"), choice); err != nil {
		return s.dumpedAgain(c, f, err)
	}
	s.say(c, c.Param("tag")+": "+choice.Words()+".")
	return c.Redirect(http.StatusSeeOther, "/staff/dumped")
}

func (s *Site) settleAmend(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	if err := s.Store.SettleAmend(c.Request().Context(), api.Actor(c), c.Param("tag"), f.Values.Get("note")); err != nil {
		return s.dumpedAgain(c, f, err)
	}
	return c.Redirect(http.StatusSeeOther, "/staff/dumped")
}

func (s *Site) dumpedAgain(c echo.Context, f Form, err error) error {
	if !refused(&f, err) {
		return err
	}
	return s.showDumped(c, api.Status(err), DumpedPage{Form: f, FormTag: c.Param("tag")})
}

func (s *Site) cureAgain(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	made, err := s.Store.CureAgain(c.Request().Context(), api.Actor(c), f.Values["slab"])
	if err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.showDumped(c, api.Status(err), DumpedPage{Form: f})
	}
	s.say(c, plural(len(made), "slab is cured again; its people are told their day.", "slabs are cured again; their people are told their day."))
	return c.Redirect(http.StatusSeeOther, "/staff/dumped")
}
