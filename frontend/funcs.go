package frontend

import (
	"errors"
	"fmt"
	"html/template"
	"time"

	"flitchbook/planner/unit"
)

var errNoZone = errors.New("the page has no zone: fill its Layout with Renderer.Layout")

// funcs are the functions a template may call. They only format; what to show is
// decided in Go. Days and hours need the shop's zone: {{when .Loc .StartsAt}}, or
// $.Loc inside a range.
func funcs(st *static) template.FuncMap {
	return template.FuncMap{
		"asset": st.url, // address of a file in static, with its content hash

		"lb":    unit.Weight.LB,    // 4.60 lb
		"g":     grams,             // g .Salt 0: 41 g; g .CuringSalt 1: 4.7 g
		"money": unit.Money.String, // $95.00
		"temp":  unit.Temp.Show,    // 38.5 °F
		"pct":   percent,           // 73.6 %

		"day":     unit.Day.Show,     // Thu Oct 8
		"dayYear": unit.Day.ShowYear, // Thu Oct 8, 2026
		"when":    when,              // Thu Oct 8, 15:30
		"clock":   clock,             // 15:30
		"exact":   exact,             // 15:30:00
		"spaced":  spaced,            // tree nut, milk
		"plural":  plural,            // plural 2 "seat" "seats": 2 seats
	}
}

func grams(w unit.Weight, places int) string { return w.G(places) }

func percent(r unit.Ratio) string { return r.Pct(1) }

func when(loc *time.Location, i unit.Instant) (string, error) {
	if loc == nil {
		return "", errNoZone
	}
	return i.Show(loc), nil
}

func clock(loc *time.Location, i unit.Instant) (string, error) {
	if loc == nil {
		return "", errNoZone
	}
	return i.Clock(loc), nil
}

func plural(n int, one, many string) string {
	if n == 1 {
		return fmt.Sprintf("%d %s", n, one)
	}
	return fmt.Sprintf("%d %s", n, many)
}

// exact is a time of day to the second, for what is done by the wall clock.
func exact(loc *time.Location, at unit.Instant) string { return at.In(loc).Format("15:04:05") }
