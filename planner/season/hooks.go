package season

import (
	"fmt"
	"slices"

	"flitchbook/planner/unit"
)

// hang fills smoke days first sealed, first hung, counting slabs only: whole parties
// are kept together when loads are chosen, which can put a slab back but not save a
// place. Slabs known to need the bottom row take no more hooks a day than it has.
func (r Rules) hang(sittings []Sitting, slabs Slabs, closed Closed) []Break {
	type load struct {
		Sitting
		plain, low       int
		earliest, latest unit.Day
	}
	var loads []load
	var from, to unit.Day
	for _, s := range inOrder(sittings) {
		if _, err := r.ReadyAbout(s.Day, s.Cold, closed); err != nil {
			continue // reported as a broken chain
		}
		n := slabs(s)
		low := min(s.Allergen, n)
		l := load{s, n - low, low, r.earliest(s.Day, s.Cold), s.Day + unit.Day(r.MaxCure)}
		if from == 0 || l.earliest < from {
			from = l.earliest
		}
		to = max(to, l.latest)
		loads = append(loads, l)
	}
	for d := from; d <= to && from != 0; d++ {
		if !slices.Contains(r.UnbagDays, d.Weekday()) || r.broken(d, closed) != "" {
			continue
		}
		hooks := r.hooksOn(d + 1)
		bottom := min(r.BottomRow, hooks)
		for i := range loads {
			l := &loads[i]
			if d < l.earliest || d > l.latest {
				continue
			}
			n := min(l.low, bottom, hooks)
			l.low, bottom, hooks = l.low-n, bottom-n, hooks-n
			n = min(l.plain, hooks)
			l.plain, hooks = l.plain-n, hooks-n
			bottom = min(bottom, hooks)
		}
	}
	var breaks []Break
	for _, l := range loads {
		if left := l.plain + l.low; left > 0 {
			what := "hooks"
			if l.plain == 0 {
				what = "bottom row"
			}
			breaks = append(breaks, Break{l.latest, what, slabs(l.Sitting), slabs(l.Sitting) - left,
				fmt.Sprintf("%s: %d of %s's %d slabs find no hook by their last unbag day", l.latest.Show(), left, l.Code, slabs(l.Sitting))})
		}
	}
	return breaks
}
