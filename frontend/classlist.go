package frontend

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

var classListPages = map[string]Page{
	"class_list": {Shop, ClassListPage{}},
}

// ClassListPage is the coming classes, then those of the last weeks.
type ClassListPage struct {
	Layout
	Lists []ClassList
}

// ClassList is one part of it.
type ClassList struct {
	Title   string
	Classes []ClassLine
}

// ClassLine is one class with what can be done from here.
type ClassLine struct {
	store.ClassCard
	Book    bool
	Printed bool // its sheets are worth printing
}

// recentDays is how far back the list reaches: bacon of a class is fetched about two
// weeks after it and chased for two more.
const recentDays = 28

func (s *Site) classListRoutes(e *echo.Echo) {
	e.GET("/staff/classes", s.classList, api.Need(shop.Staff))
}

func (s *Site) classList(c echo.Context) error {
	today := s.Store.Today()
	cards, err := s.Store.Classes(c.Request().Context(), today-unit.Day(recentDays))
	if err != nil {
		return err
	}
	var now, ahead, past []ClassLine
	for _, card := range cards {
		l := ClassLine{card, bookable(card, s.Store.Now()), card.State != shop.Sketched && card.State != shop.ClassOff}
		switch {
		case card.Day < today:
			past = append(past, l)
		case card.Day == today:
			now = append(now, l)
		default:
			ahead = append(ahead, l)
		}
	}
	for i, j := 0, len(past)-1; i < j; i, j = i+1, j-1 {
		past[i], past[j] = past[j], past[i]
	}
	p := ClassListPage{Layout: s.Layout(c, "Classes")}
	for _, l := range []ClassList{{"Today", now}, {"Coming", ahead}, {"Recent", past}} {
		if len(l.Classes) > 0 {
			p.Lists = append(p.Lists, l)
		}
	}
	return s.Render(c, http.StatusOK, "class_list", p)
}

// bookable says whether the counter may book into a class: private parties too.
func bookable(c store.ClassCard, now unit.Instant) bool {
	return (c.State == shop.Open || c.State == shop.GoingAhead) && now < c.StartsAt
}
