package season

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"flitchbook/planner/unit"
)

// Sitting is one class as the room sees it.
type Sitting struct {
	Code     string
	Day      unit.Day
	Seats    int // slab seats on offer, or guests of a class without slabs
	Sold     int // of those
	Second   int // second slabs sold
	Demo     int // slabs for showing
	Allergen int // slabs whose pick is known to need the bottom row
	Cold     time.Duration

	Plain    bool // its seats have no slab: a clinic, a dinner
	Watching int  // watching seats sold: places at the table without a slab
	From, To int  // minutes of the shop's day it begins and ends; both 0 = not known

	Use     string // what it asks of a kill: a name in Rules.Uses; "" = no animal
	Animals int    // with every seat sold
	Fed     bool   // its kill is planned or its meat ordered
}

// Full is its slabs with every seat taken.
func (s Sitting) Full() int {
	if s.Plain {
		return 0
	}
	return s.Seats + s.Second + s.Demo
}

// Now is its slabs with the seats sold; a class without seats sold has no slabs.
func (s Sitting) Now() int {
	if s.Sold == 0 || s.Plain {
		return 0
	}
	return s.Sold + s.Second + s.Demo
}

// RackDay is one day of the cure cooler.
type RackDay struct {
	Day   unit.Day
	Used  int
	Parts []RackPart // in class order
}

// RackPart is one class's share of the rack.
type RackPart struct {
	Code  string
	Slabs int
}

// Slabs is how many slabs of a sitting to count: Sitting.Full or Sitting.Now.
type Slabs func(Sitting) int

// Rack counts places day by day, from the first seal to the last unbag day. A slab
// lies from its seal day to its planned unbag day, both included; a sitting without
// any chain lies to its last unbag day.
func (r Rules) Rack(sittings []Sitting, slabs Slabs, closed Closed) []RackDay {
	sorted := inOrder(sittings)
	spans := make([][2]unit.Day, len(sorted))
	var from, to unit.Day
	for i, s := range sorted {
		if s.Plain {
			continue
		}
		spans[i] = r.span(s, closed)
		if from == 0 || spans[i][0] < from {
			from = spans[i][0]
		}
		to = max(to, spans[i][1])
	}
	var days []RackDay
	for d := from; d <= to && from != 0; d++ {
		day := RackDay{Day: d}
		for i, s := range sorted {
			if n := slabs(s); n > 0 && spans[i][0] <= d && d <= spans[i][1] {
				day.Used += n
				day.Parts = append(day.Parts, RackPart{s.Code, n})
			}
		}
		days = append(days, day)
	}
	return days
}

func (r Rules) span(s Sitting, closed Closed) [2]unit.Day {
	c, err := r.ReadyAbout(s.Day, s.Cold, closed)
	if err != nil {
		return [2]unit.Day{s.Day, s.Day + unit.Day(r.MaxCure)}
	}
	return [2]unit.Day{s.Day, c.Unbag}
}

func inOrder(sittings []Sitting) []Sitting {
	sorted := slices.Clone(sittings)
	slices.SortStableFunc(sorted, func(a, b Sitting) int {
		if c := cmp.Compare(a.Day, b.Day); c != 0 {
			return c
		}
		return strings.Compare(a.Code, b.Code)
	})
	return sorted
}

// Break is a date at which the season does not fit.
type Break struct {
	Day       unit.Day
	What      string // rack, hooks, bottom row, resting, chain, table, hands, sealer, closed, kill; in Tight also shelf, freezer
	Have, Cap int
	Text      string
}

// Breaks lists the dates that do not fit, earliest first: days with too many slabs on
// the rack, slabs that find no hook before their last unbag day, classes whose bacon has
// no working days at all, too few seats at the tables or hands to teach, and more bags
// than the sealer closes in the time there is.
func (r Rules) Breaks(sittings []Sitting, slabs Slabs, closed Closed) []Break {
	var breaks []Break
	for _, d := range r.Rack(sittings, slabs, closed) {
		if d.Used > r.Places {
			breaks = append(breaks, Break{d.Day, "rack", d.Used, r.Places, fmt.Sprintf("%s: rack %d of %d", d.Day.Show(), d.Used, r.Places)})
		}
	}
	for _, s := range inOrder(sittings) {
		if _, err := r.ReadyAbout(s.Day, s.Cold, closed); err != nil && slabs(s) > 0 {
			breaks = append(breaks, Break{s.Day, "chain", slabs(s), 0, s.Code + ": " + err.Error()})
		}
	}
	_, late := r.hang(sittings, slabs, closed)
	breaks = append(breaks, late...)
	breaks = append(breaks, r.table(sittings, slabs)...)
	slices.SortStableFunc(breaks, func(a, b Break) int { return cmp.Compare(a.Day, b.Day) })
	return breaks
}
