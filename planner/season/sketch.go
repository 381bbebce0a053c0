package season

import (
	"cmp"
	"slices"
	"strings"

	"flitchbook/planner/unit"
)

// Sketch is a whole season looked at: what stands, and what is only sketched yet.
type Sketch struct {
	Days    []DayUse
	Loads   []SmokeDay
	Breaks  []Break // with everything published
	Notes   []Break // shelf and freezer, with everything published
	Answers []Answer
	First   Break // the first broken date; zero when all fits
}

// OK says whether everything sketched could be published.
func (s Sketch) OK() bool { return s.First.Day == 0 }

// Answer is what becomes of one sketched class when the sketches are published in the
// order of their days: each is judged against what stands and the earlier sketches that
// fit.
type Answer struct {
	Code string
	Verdict
}

// DayUse is what one day asks of the rooms, everything taken as full.
type DayUse struct {
	Day    unit.Day
	Rack   int
	Parts  []RackPart
	Rest   int // smoked slabs waiting to be packed, own bacon's too
	Shelf  int
	Frozen int
}

// Sketch judges every sketched class in the order of their days and adds up the days.
func (r Rules) Sketch(d Diary, sketched []Sitting) Sketch {
	var out Sketch
	grown := d
	grown.Open = slices.Clone(d.Open)
	for _, s := range inOrder(sketched) {
		v := r.Judge(grown, s)
		out.Answers = append(out.Answers, Answer{s.Code, v})
		if v.OK {
			grown.Open = append(grown.Open, s)
		} else if out.First.Day == 0 || v.First.Day < out.First.Day {
			out.First = v.First
		}
	}
	all := append(slices.Clone(d.Open), sketched...)
	out.Loads = r.Loads(all, Sitting.Full, d.Closed)
	out.Breaks = r.Breaks(all, Sitting.Full, d.Closed)
	for _, s := range sketched {
		if b, shut := closedOn(s.Day, d.Closed); shut {
			out.Breaks = append(out.Breaks, b)
		}
		if b, none := r.unfed(d, s); none && s.Plain {
			out.Breaks = append(out.Breaks, b)
		} else if none {
			out.Notes = append(out.Notes, b)
		}
	}
	out.Notes = append(out.Notes, r.Tight(all, Sitting.Full, d.Closed)...)
	for _, list := range [][]Break{out.Breaks, out.Notes} {
		slices.SortStableFunc(list, func(a, b Break) int {
			return cmp.Or(cmp.Compare(a.Day, b.Day), strings.Compare(a.What, b.What))
		})
	}
	out.Days = r.days(all, out.Loads, d.Closed)
	return out
}

// days puts rack, resting room, shelf and freezer side by side.
func (r Rules) days(all []Sitting, loads []SmokeDay, closed Closed) []DayUse {
	shelf, frozen := r.keep(all, Sitting.Full, closed)
	rest := map[unit.Day]int{}
	for _, l := range loads {
		for d := l.Smoke; d < l.Pack; d++ {
			rest[d] += l.Used + l.Own
		}
	}
	var from, to unit.Day
	span := func(d unit.Day) {
		if from == 0 || d < from {
			from = d
		}
		to = max(to, d)
	}
	rack := map[unit.Day]RackDay{}
	for _, d := range r.Rack(all, Sitting.Full, closed) {
		rack[d.Day] = d
		span(d.Day)
	}
	for d, n := range shelf {
		if n > 0 {
			span(d)
		}
	}
	var out []DayUse
	for d := from; d <= to && from != 0; d++ {
		out = append(out, DayUse{d, rack[d].Used, rack[d].Parts, rest[d], shelf[d], frozen[d]})
	}
	return out
}
