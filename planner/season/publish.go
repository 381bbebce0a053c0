package season

import (
	"cmp"
	"fmt"
	"slices"
	"sort"

	"flitchbook/planner/unit"
)

// Verdict is the answer to publishing a class or adding seats.
type Verdict struct {
	OK        bool
	First     Break    // the first broken date, when not OK
	MostSeats int      // the most seats that would fit on that day, 0 when none
	Later     unit.Day // the first same weekday later that fits the whole class; 0 = none within a year
	Text      string
}

// Publish checks a new class against the open ones, every one taken as full. Dates
// that are broken already and that the new class does not touch do not refuse it.
func (r Rules) Publish(open []Sitting, add Sitting, closed Closed) Verdict {
	before := r.Breaks(open, Sitting.Full, closed)
	first, bad := r.worsens(open, before, add, closed)
	if !bad {
		return Verdict{OK: true, MostSeats: add.Seats, Text: add.Day.Show() + ": fits"}
	}
	v := Verdict{First: first}
	// More seats never fit where fewer do not.
	v.MostSeats = sort.Search(max(add.Seats-1, 0), func(n int) bool {
		more := add
		more.Seats = n + 1
		_, bad := r.worsens(open, before, more, closed)
		return bad
	})
	for d := add.Day + 7; d <= add.Day+52*7; d += 7 {
		later := add
		later.Day = d
		if closed.Has(d) {
			continue
		}
		if _, bad := r.worsens(open, before, later, closed); !bad {
			v.Later = d
			break
		}
	}
	v.Text = first.Text + fmt.Sprintf("; at most %d seats fit", v.MostSeats)
	if v.Later != 0 {
		v.Text += fmt.Sprintf("; the whole class fits on %s", v.Later.Show())
	}
	return v
}

// worsens returns the first break that the added class causes or makes worse.
func (r Rules) worsens(open []Sitting, before []Break, add Sitting, closed Closed) (Break, bool) {
	if closed.Has(add.Day) {
		return Break{add.Day, "closed", 0, 0, add.Day.Show() + ": the shop is closed"}, true
	}
	all := append(slices.Clone(open), add)
	for _, b := range r.Breaks(all, Sitting.Full, closed) {
		if !slices.Contains(before, b) {
			return b, true
		}
	}
	return Break{}, false
}

// Placeless is a class whose seats on sale have lost their place.
type Placeless struct {
	Code  string
	Seats int // unsold seats without a place on the rack
}

// Placeless lists seats still on sale that no longer have a place, after a move, a
// slip or a cold spell, with the slabs of seats sold counted first. Unsold seats take
// what is left in class order.
func (r Rules) Placeless(sittings []Sitting, closed Closed) []Placeless {
	used := map[unit.Day]int{}
	for _, d := range r.Rack(sittings, Sitting.Now, closed) {
		used[d.Day] = d.Used
	}
	var lost []Placeless
	for _, s := range inOrder(sittings) {
		unsold := s.Seats - s.Sold
		if unsold <= 0 {
			continue
		}
		span := r.span(s, closed)
		free := unsold
		// A class with no seat sold brings its demo slab along with the first.
		demo := s.Full() - s.Seats - (s.Now() - s.Sold)
		for d := span[0]; d <= span[1]; d++ {
			free = min(free, max(r.Places-used[d]-demo, 0))
		}
		for d := span[0]; d <= span[1] && free > 0; d++ {
			used[d] += free + demo
		}
		if free < unsold {
			lost = append(lost, Placeless{s.Code, unsold - free})
		}
	}
	slices.SortStableFunc(lost, func(a, b Placeless) int { return cmp.Compare(a.Code, b.Code) })
	return lost
}
