package frontend

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

var dayPages = map[string]Page{
	"days":       {Shop, DaysPage{}},
	"day_folder": {Paper, DayFolderPage{}},
}

// DaysPage leads to the folder of a date.
type DaysPage struct {
	Layout
	Form Form
	Days []store.FolderDay
}

// DayFolderPage is one date on paper, for the inspector.
type DayFolderPage struct {
	Sheet
	Folder store.DayFolder
	Rooms  []RoomShown // those to be looked at: where slabs cure, or something is to note
	Calm   []string    // the others, a line each
}

// folderDays is how far back the list of days reaches; any older one can be typed.
const folderDays = 60

func (s *Site) dayRoutes(e *echo.Echo) {
	g := e.Group("/staff/days", api.Need(shop.Staff))
	g.GET("", s.days)
	g.GET("/:day", s.dayFolder)
}

func (s *Site) days(c echo.Context) error {
	typed := strings.TrimSpace(c.QueryParam("day"))
	p, status := DaysPage{Layout: s.Layout(c, "Day folders")}, http.StatusOK
	if c.QueryParams().Has("day") {
		d, err := unit.ParseDay(typed)
		if err == nil && d <= s.Store.Today() {
			return c.Redirect(http.StatusSeeOther, "/staff/days/"+d.String())
		}
		p.Form.Values, status = url.Values{"day": {typed}}, http.StatusUnprocessableEntity
		if err != nil {
			p.Form.Fail("day", "Write the day as 2026-11-08.")
		} else {
			p.Form.Fail("day", "That day lies ahead: its folder is empty.")
		}
	}
	var err error
	if p.Days, err = s.Store.FolderDays(c.Request().Context(), folderDays); err != nil {
		return err
	}
	return s.Render(c, status, "days", p)
}

func (s *Site) dayFolder(c echo.Context) error {
	d, err := dayParam(c)
	if err != nil {
		return err
	}
	f, err := s.Store.DayFolder(c.Request().Context(), d)
	if err != nil {
		return err
	}
	p := DayFolderPage{Sheet: Sheet{Layout: s.Layout(c, "Day folder, "+d.ShowYear()), Large: c.QueryParam("large") != ""}, Folder: *f}
	for i := range f.Rooms {
		l := &f.Rooms[i]
		if l.Cures || len(l.Runs)+len(l.Gaps)+len(l.Holds)+len(l.Notes) > 0 || len(l.Readings) == 0 {
			p.Rooms = append(p.Rooms, s.roomShown(l))
			continue
		}
		low, high := l.Readings[0].Temp, l.Readings[0].Temp
		for _, r := range l.Readings {
			low, high = min(low, r.Temp), max(high, r.Temp)
		}
		p.Calm = append(p.Calm, fmt.Sprintf("%s: %d readings, %s to %s, nothing to note", l.Room.Name, len(l.Readings), low.Show(), high.Show()))
	}
	return s.Render(c, http.StatusOK, "day_folder", p)
}
