package frontend

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

var sealingPages = map[string]Page{
	"sealing": {Shop, SealingPage{}},
}

// SealingPage is the seal order on the wall clock.
type SealingPage struct {
	Layout
	Sheet store.SealSheet
	At    unit.Instant
	Close bool // the class was taught and may be closed out
	Form  Form
}

// Turn says whether a turn is the sealer's at this moment.
func (p SealingPage) Turn(t store.SealTurn) bool { return t.From <= p.At && p.At < t.Until }

func (s *Site) sealingRoutes(e *echo.Echo) {
	e.GET("/staff/classes/:code/sealing", func(c echo.Context) error { return s.showSealing(c, http.StatusOK, Form{}) }, api.Need(shop.Staff))
	e.POST("/staff/classes/:code/closeout", s.closeOut, api.Need(shop.Staff))
}

func (s *Site) showSealing(c echo.Context, status int, f Form) error {
	sheet, err := s.Store.SealSheet(c.Request().Context(), c.Param("code"))
	if err != nil {
		return err
	}
	return s.Render(c, status, "sealing", SealingPage{Layout: s.Layout(c, "Sealing "+sheet.Code), Sheet: *sheet, At: s.Store.Now(), Close: sheet.State == shop.Taught, Form: f})
}

func (s *Site) closeOut(c echo.Context) error {
	var f Form
	err := s.Store.CloseOut(c.Request().Context(), api.Actor(c), c.Param("code"))
	switch {
	case err == nil:
		s.say(c, c.Param("code")+" is closed out.")
		return c.Redirect(http.StatusSeeOther, "/staff/classes/"+c.Param("code")+"/sealing")
	case refused(&f, err):
		return s.showSealing(c, api.Status(err), f)
	}
	return err
}
