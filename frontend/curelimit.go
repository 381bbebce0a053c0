package frontend

import (
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
)

var limitPages = map[string]Page{"limits": {Shop, LimitsPage{}}}

// LimitsPage is the limits on nitrite the owner chooses from and approves.
type LimitsPage struct {
	Layout
	Form   Form
	Limits []store.LimitLine
}

// For is the form of one button of one limit; what was refused stands in its own alone.
func (p LimitsPage) For(what, code string) Form {
	if prefix := what + "-" + code + "-"; p.Form.Prefix == prefix {
		return p.Form
	}
	return Form{Prefix: what + "-" + code + "-"}
}

// Figures says how the limit's figures are known, for its badge.
func (p LimitsPage) Figures(l store.LimitLine) string {
	return strings.ToUpper(string(l.ReadHow)[:1]) + string(l.ReadHow)[1:]
}

func (s *Site) limitRoutes(e *echo.Echo) {
	owner := api.Need(shop.Owner)
	e.GET("/owner/limits", func(c echo.Context) error { return s.limits(c, http.StatusOK, Form{}) }, owner)
	e.POST("/owner/limits/choice", s.chooseLimit, owner)
	e.POST("/owner/limits/approval", s.approveLimit, owner)
}

func (s *Site) limits(c echo.Context, status int, f Form) error {
	lines, err := s.Store.CureLimits(c.Request().Context())
	if err != nil {
		return err
	}
	return s.Render(c, status, "limits", LimitsPage{Layout: s.Layout(c, "Limits on nitrite"), Form: f, Limits: lines})
}

func (s *Site) chooseLimit(c echo.Context) error {
	return s.limitStep(c, "choose", "From now on kits are made under it. Tickets that exist stay as they are.", func(f *Form) error {
		return s.Store.ChooseLimit(c.Request().Context(), api.Actor(c), f.Values.Get("code"), f.Values.Get("why"))
	})
}

func (s *Site) approveLimit(c echo.Context) error {
	return s.limitStep(c, "approve", "Your approval is written down.", func(f *Form) error {
		if f.Values.Get("checked") == "" {
			f.Fail("checked", "Tick this once you have read the official text and the figures agree.")
			return nil
		}
		return s.Store.ApproveLimit(c.Request().Context(), api.Actor(c), f.Values.Get("code"), store.Approval{With: f.Values.Get("with"), Why: f.Values.Get("why")})
	})
}

func (s *Site) limitStep(c echo.Context, what, done string, do func(*Form) error) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	f.Prefix = what + "-" + f.Values.Get("code") + "-"
	if err := do(&f); err != nil {
		if refused(&f, err) {
			return s.limits(c, api.Status(err), f)
		}
		return err
	}
	if !f.OK() {
		return s.limits(c, http.StatusUnprocessableEntity, f)
	}
	s.say(c, done)
	return c.Redirect(http.StatusSeeOther, "/owner/limits")
}
