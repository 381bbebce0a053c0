package frontend

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

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
