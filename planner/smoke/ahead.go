package smoke

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"flitchbook/planner/unit"
)

// Ahead is every slab still to be smoked and every smoke day to come. Days are whole
// numbers counted from any day 0.
type Ahead struct {
	Open     []OpenDay
	Conflict [][2]string // groups that never share a load
	Slabs    []Due
}

// An OpenDay is a day on which loads may run.
type OpenDay struct {
	Day    int
	Loads  int // at most
	Hooks  int // of each load, the shop's own bacon taken off
	Bottom int // of those, in the bottom row
}

// A Due slab waits for smoke and is promised for a day.
type Due struct {
	ID       int
	Party    string // slabs of one party hang in one load; "" = by itself
	Group    string // what it is coated with, for Ahead.Conflict
	Ready    int    // first day it may hang
	Last     int    // last day it may hang
	Pickup   int    // promised; it can be had the day after its load
	Allergen bool   // bottom row only
}

// A Batch is one load of a Plan.
type Batch struct {
	Day, Slot int   // Slot counts a day's loads from 0
	Slabs     []int // IDs, ascending
}

// Status says how good a plan is.
type Status string

// The two ways a search ends with a plan.
const (
	Proven Status = "proven" // no plan is less late, and none as little late has fewer loads
	Limit  Status = "limit"  // the work ran out first
)

// A Plan hangs every slab.
type Plan struct {
	Batches   []Batch // by day and slot
	LateDays  int     // Σ over slabs of the days after Pickup that it can first be had
	Loads     int
	LateBound int // no plan is late by fewer days
	Bound     int // no plan with so few late days has fewer loads
	Status    Status
	Work      int64
}

// ErrNoPlan is wrapped by the error that says why no plan hangs every slab; nothing
// was cut short, so there is none.
var ErrNoPlan = fmt.Errorf("no plan hangs every slab")

// ErrNoneYet is returned when the work ran out before any plan was found.
var ErrNoneYet = fmt.Errorf("no plan was found within the limit of work; there may be one")

const (
	maxDue   = 5000
	maxDay   = 1_000_000
	maxLoads = 8
	maxLive  = 64 * words // parties that wait at one time
	maxMixes = 64         // ways to fill a load that the conflicts leave
)

// faults lists what makes no sense in the problem, all at once.
func (a Ahead) faults() unit.Faults {
	var f unit.Faults
	seen := map[int]bool{}
	for i, o := range a.Open {
		at := fmt.Sprintf("open[%d]", i)
		switch {
		case o.Day < -maxDay || o.Day > maxDay:
			f.Add(at, fmt.Sprintf("day %d is out of reach", o.Day))
		case seen[o.Day]:
			f.Add(at, fmt.Sprintf("day %d is listed twice", o.Day))
		}
		seen[o.Day] = true
		if o.Loads < 0 || o.Loads > maxLoads {
			f.Add(at, fmt.Sprintf("there cannot be %d loads on a day (0 to %d)", o.Loads, maxLoads))
		}
		if o.Hooks < 0 || o.Hooks > maxHooks || o.Bottom < 0 || o.Bottom > o.Hooks {
			f.Add(at, fmt.Sprintf("there cannot be %d hooks, %d of them in the bottom row", o.Hooks, o.Bottom))
		}
	}
	for i, c := range a.Conflict {
		if c[0] == c[1] {
			f.Add(fmt.Sprintf("conflict[%d]", i), fmt.Sprintf("%q cannot be kept from itself", c[0]))
		}
	}
	if len(a.Slabs) > maxDue {
		f.Add("slabs", fmt.Sprintf("%d slabs are more than can be planned at once (%d)", len(a.Slabs), maxDue))
	}
	ids := map[int]bool{}
	for i, s := range a.Slabs {
		at := fmt.Sprintf("slabs[%d]", i)
		if ids[s.ID] {
			f.Add(at+".id", fmt.Sprintf("slab %d is listed twice", s.ID))
		}
		ids[s.ID] = true
		for _, d := range []int{s.Ready, s.Last, s.Pickup} {
			if d < -2*maxDay || d > 2*maxDay {
				f.Add(at, fmt.Sprintf("day %d is out of reach", d))
			}
		}
	}
	return f
}

// item is a party: what hangs or waits as one.
type item struct {
	ids          []int
	size, bottom int
	mixes        uint64 // ways to fill a load that take it
	first, last  int    // indices of open days
	cost         []int  // late days when hung on open day first+k
	slot         int    // its bit while it waits
}

func (t *item) late(day int) int { return t.cost[day-t.first] }

// parties groups the slabs, each slab without a party by itself, in a fixed order,
// and says which cannot hang at all.
func (a Ahead) parties(days []OpenDay, mixes []mix) ([]item, []string) {
	members := map[string][]Due{}
	var names []string
	for _, s := range a.Slabs {
		name := s.Party
		if name == "" {
			name = fmt.Sprintf("\x00%09d", s.ID+3*maxDay)
		}
		if members[name] == nil {
			names = append(names, name)
		}
		members[name] = append(members[name], s)
	}
	var items []item
	var never []string
	for _, name := range names {
		ms := members[name]
		slices.SortFunc(ms, func(a, b Due) int { return cmp.Compare(a.ID, b.ID) })
		t := item{size: len(ms)}
		ready, last := ms[0].Ready, ms[0].Last
		var groups []string
		for _, m := range ms {
			t.ids = append(t.ids, m.ID)
			ready, last = max(ready, m.Ready), min(last, m.Last)
			groups = append(groups, m.Group)
			if m.Allergen {
				t.bottom++
			}
		}
		who := fmt.Sprintf("slab %d", ms[0].ID)
		if ms[0].Party != "" {
			who = fmt.Sprintf("party %s of %d", ms[0].Party, len(ms))
		}
		for m := range mixes {
			if mixes[m].takes(groups) {
				t.mixes |= 1 << m
			}
		}
		if t.mixes == 0 {
			never = append(never, who+" is coated with things that never share a load")
			continue
		}
		fits := func(o OpenDay) bool { return o.Loads > 0 && t.size <= o.Hooks && t.bottom <= o.Bottom }
		t.first, t.last = -1, -1
		for i, o := range days {
			if o.Day >= ready && o.Day <= last && fits(o) {
				if t.first < 0 {
					t.first = i
				}
				t.last = i
			}
		}
		if t.first < 0 {
			never = append(never, fmt.Sprintf("%s has no smoke day with room for it from %d to %d", who, ready, last))
			continue
		}
		for i := t.first; i <= t.last; i++ {
			sum := 0
			for _, m := range ms {
				sum += max(0, days[i].Day+1-m.Pickup)
			}
			t.cost = append(t.cost, sum)
		}
		items = append(items, t)
	}
	slices.SortStableFunc(items, func(a, b item) int {
		return cmp.Or(cmp.Compare(a.first, b.first), cmp.Compare(a.last, b.last), cmp.Compare(a.ids[0], b.ids[0]))
	})
	return items, never
}

// A mix is a largest set of groups that may share a load.
type mix struct {
	groups []string
}

func (m mix) takes(groups []string) bool {
	for _, g := range groups {
		if !slices.Contains(m.groups, g) {
			return false
		}
	}
	return true
}

// mixesOf lists the largest sets of the slabs' groups without a conflict (Bron and
// Kerbosch's walk, from memory), or false when there are too many.
func (a Ahead) mixesOf() ([]mix, bool) {
	var groups []string
	for _, s := range a.Slabs {
		groups = append(groups, s.Group)
	}
	slices.Sort(groups)
	groups = slices.Compact(groups)
	apart := map[[2]string]bool{}
	for _, c := range a.Conflict {
		apart[c], apart[[2]string{c[1], c[0]}] = true, true
	}
	var out []mix
	var grow func(in, may, done []string) bool
	grow = func(in, may, done []string) bool {
		if len(may) == 0 {
			if len(done) == 0 {
				out = append(out, mix{slices.Clone(in)})
			}
			return len(out) <= maxMixes
		}
		// Of a group that conflicts with nothing left, every set has it.
		with := func(set []string, g string) []string {
			var keep []string
			for _, h := range set {
				if h != g && !apart[[2]string{g, h}] {
					keep = append(keep, h)
				}
			}
			return keep
		}
		pivot := may[0]
		for _, g := range may {
			if len(with(may, g)) > len(with(may, pivot)) {
				pivot = g
			}
		}
		for _, g := range slices.Clone(may) {
			if g != pivot && !apart[[2]string{pivot, g}] {
				continue
			}
			if !grow(append(slices.Clone(in), g), with(may, g), with(done, g)) {
				return false
			}
			may = slices.DeleteFunc(slices.Clone(may), func(h string) bool { return h == g })
			done = append(slices.Clone(done), g)
		}
		return true
	}
	if len(groups) == 0 {
		return nil, true
	}
	ok := grow(nil, groups, nil)
	for i := range out {
		slices.Sort(out[i].groups)
	}
	slices.SortFunc(out, func(a, b mix) int {
		return strings.Compare(strings.Join(a.groups, "\x00"), strings.Join(b.groups, "\x00"))
	})
	return out, ok
}
