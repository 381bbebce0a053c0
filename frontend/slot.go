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

var slotPages = map[string]Page{"owner_slots": {Shop, SlotsPage{}}}

// SlotsPage is the stock of places on kill days.
type SlotsPage struct {
	Layout
	Days []SlotRow
	Set  Form
	Kind []Choice
}

// SlotRow is the places of one species on one kill day.
type SlotRow struct {
	store.SlotDay
	What string // "pigs"
	Past bool
}

func (s *Site) slotRoutes(e *echo.Echo) {
	owner := api.Need(shop.Owner)
	e.GET("/owner/slots", func(c echo.Context) error { return s.slots(c, http.StatusOK, Form{}) }, owner)
	e.POST("/owner/slots", s.setPlaces, owner)
}

// slotWeeks is how far back and ahead the page looks.
const slotWeeksBack, slotWeeksOn = 4, 10

func (s *Site) slots(c echo.Context, status int, f Form) error {
	today := s.Store.Today()
	days, err := s.Store.Slots(c.Request().Context(), today-7*slotWeeksBack, today+7*slotWeeksOn)
	if err != nil {
		return err
	}
	p := SlotsPage{Layout: s.Layout(c, "Places on kill days"), Set: f}
	for _, d := range days {
		p.Days = append(p.Days, SlotRow{d, strings.TrimPrefix(shop.AnimalsIn(d.Species, 2), "2 "), d.Day <= today})
	}
	for _, w := range []string{"pork", "beef", "lamb", "deer"} {
		p.Kind = append(p.Kind, Choice{Value: w, Label: strings.TrimPrefix(shop.AnimalsIn(w, 2), "2 ")})
	}
	return s.Render(c, status, "owner_slots", p)
}

func (s *Site) setPlaces(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	day, err := unit.ParseDay(f.Values.Get("day"))
	if err != nil {
		f.Fail("day", "Write a date such as 2026-11-10.")
	}
	n, err := strconv.Atoi(strings.TrimSpace(f.Values.Get("capacity")))
	if err != nil {
		f.Fail("capacity", "Write a whole number of places.")
	}
	if !f.OK() {
		return s.slots(c, http.StatusUnprocessableEntity, f)
	}
	species := f.Values.Get("species")
	if err := s.Store.SetPlaces(c.Request().Context(), api.Actor(c), day, species, n); err != nil {
		if refused(&f, err) {
			return s.slots(c, api.Status(err), f)
		}
		return err
	}
	s.say(c, fmt.Sprintf("%s: places for %s.", day.Show(), shop.AnimalsIn(species, n)))
	return c.Redirect(http.StatusSeeOther, "/owner/slots")
}
