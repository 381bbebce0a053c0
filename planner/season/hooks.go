package season

import (
	"fmt"
	"slices"

	"flitchbook/planner/unit"
)

// SmokeDay is one load as the season plans it: counts only. Which slabs hang is chosen
// on the day, whole parties together (planner/smoke), which can put a slab back but not
// save a place.
type SmokeDay struct {
	Unbag  unit.Day
	Smoke  unit.Day
	Pack   unit.Day
	Own    int // hooks of the shop's own bacon
	Hooks  int // for classes: what own bacon and resting room leave
	Used   int
	Bottom int // of the used, hooks in the bottom row that must be used
	Row    int // hooks in the bottom row for classes
	Rest   bool
	Parts  []SmokePart // in the order hung
}

// SmokePart is one class's slabs of a load.
type SmokePart struct {
	Code       string
	Plain, Low int // Low hang in the bottom row
}

// Loads plans the smoke days from the first slab ready to the last unbag day: first
// sealed, first hung. Days without a slab are listed too.
func (r Rules) Loads(sittings []Sitting, slabs Slabs, closed Closed) []SmokeDay {
	days, _ := r.hang(sittings, slabs, closed)
	return days
}

// hang fills smoke days. Own bacon hangs in the upper rows and never drips on classes'
// slabs; slabs known to need the bottom row take no more hooks a day than it has. What
// was hung the day before and is not packed yet lies in the resting room too.
func (r Rules) hang(sittings []Sitting, slabs Slabs, closed Closed) ([]SmokeDay, []Break) {
	type load struct {
		Sitting
		plain, low       int
		earliest, latest unit.Day
	}
	var loads []load
	var from, to unit.Day
	for _, s := range inOrder(sittings) {
		n := slabs(s)
		if n == 0 {
			continue
		}
		if _, err := r.ReadyAbout(s.Day, s.Cold, closed); err != nil {
			continue // reported as a broken chain
		}
		low := min(s.Allergen, n)
		l := load{s, n - low, low, r.earliest(s.Day, s.Cold), s.Day + unit.Day(r.MaxCure)}
		if from == 0 || l.earliest < from {
			from = l.earliest
		}
		to = max(to, l.latest)
		loads = append(loads, l)
	}
	var days []SmokeDay
	for d := from; d <= to && from != 0; d++ {
		if !slices.Contains(r.UnbagDays, d.Weekday()) || r.broken(d, closed) != "" {
			continue
		}
		day := SmokeDay{Unbag: d, Smoke: d + 1, Pack: d + 2, Own: r.OwnOn(d + 1)}
		day.Hooks = r.Hooks - day.Own
		if r.Resting > 0 {
			lying := day.Own
			if n := len(days); n > 0 && days[n-1].Pack >= day.Smoke {
				lying += days[n-1].Used + days[n-1].Own
			}
			if room := max(r.Resting-lying, 0); room < day.Hooks {
				day.Hooks, day.Rest = room, true
			}
		}
		day.Row = min(r.BottomRow, day.Hooks)
		for i := range loads {
			l := &loads[i]
			if d < l.earliest || d > l.latest {
				continue
			}
			p := SmokePart{Code: l.Code, Low: min(l.low, day.Row-day.Bottom, day.Hooks-day.Used)}
			day.Bottom, day.Used = day.Bottom+p.Low, day.Used+p.Low
			p.Plain = min(l.plain, day.Hooks-day.Used) // the upper rows first, then what is left below
			day.Used += p.Plain
			l.low, l.plain = l.low-p.Low, l.plain-p.Plain
			if p.Low+p.Plain > 0 {
				day.Parts = append(day.Parts, p)
			}
		}
		days = append(days, day)
	}
	var breaks []Break
	for _, l := range loads {
		left := l.plain + l.low
		if left == 0 {
			continue
		}
		what := "hooks"
		switch {
		case l.plain == 0:
			what = "bottom row"
		case slices.ContainsFunc(days, func(d SmokeDay) bool { return d.Rest && l.earliest <= d.Unbag && d.Unbag <= l.latest }):
			what = "resting"
		}
		text := fmt.Sprintf("%s: %d of %s's %d slabs find no hook by their last unbag day", l.latest.Show(), left, l.Code, slabs(l.Sitting))
		if what == "resting" {
			text += fmt.Sprintf(", the resting room has %d places", r.Resting)
		}
		breaks = append(breaks, Break{l.latest, what, slabs(l.Sitting), slabs(l.Sitting) - left, text})
	}
	return days, breaks
}
