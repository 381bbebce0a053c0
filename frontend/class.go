package frontend

import (
	"fmt"
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

// ClassPage is all about one class.
type ClassPage struct {
	Layout
	Class  store.ClassPage
	Room   Room
	Change []string // what a change of mind costs, line by line
	Event  Event
	Share  Share
	Where  string // the shop's door, for strangers
}

func (s *Site) class(c echo.Context) error {
	p, err := s.Store.ClassPage(c.Request().Context(), c.Param("code"))
	if err != nil {
		return err
	}
	for i, j := range p.Jars {
		p.Jars[i].Contents, p.Jars[i].Allergens = spaced(j.Contents), spaced(j.Allergens)
	}
	at, err := s.Store.Address(c.Request().Context())
	if err != nil {
		return err
	}
	return s.Render(c, http.StatusOK, "class", ClassPage{Layout: s.Layout(c, p.Title), Class: *p, Room: s.room(p.ClassCard),
		Change: changeWords(s.Store.Rules), Event: s.event(p, at), Share: s.shareClass(p), Where: at.Lines()})
}

// spaced writes a list kept as "pepper,bay" as people do.
func spaced(list string) string {
	return strings.ReplaceAll(strings.ReplaceAll(list, ", ", ","), ",", ", ")
}

// until writes a moment as people say it: the hour alone when it is today.
func (s *Site) until(at unit.Instant) string {
	if at.Day(s.Store.Loc) == s.Store.Today() {
		return at.Clock(s.Store.Loc)
	}
	return at.Show(s.Store.Loc)
}

// changeWords says the leaving and moving rules (R4, R6) in plain words, with the shop's
// own figures.
func changeWords(r shop.Rules) []string {
	return []string{
		plural(r.FullBackDays, "day", "days") + " or more before the class: all your money back.",
		fmt.Sprintf("%d to %d days before: a credit for everything, or ", r.FullBackDays-1, r.ChooseDays) + r.ChooseShare.String() + " of the money back; you choose.",
		fmt.Sprintf("Under %d days: nothing back, unless the seat is sold again. Then a credit for everything.", r.ChooseDays),
		fmt.Sprintf("Another date of the same kind is free until %d days before, at the price you paid.", r.ChooseDays),
		"Giving your seat to a friend, or changing a name, is always free until the class starts.",
		fmt.Sprintf("A credit lasts %d months. If we call a class off or move it, you choose: all money back, another date, or a credit of ", r.CreditMonths) + r.CalledOffShare.String() + " of the money you paid.",
	}
}
