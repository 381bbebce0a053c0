package smoke

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// DefaultWork is steps of the search; a shop's season takes a small part of it.
const DefaultWork = 1_000_000_000

// widest is a walk that leaves no state aside, but for a crowd that fills a machine.
const widest = 100_000

// PlanAhead hangs every slab: late by as few days as can be in all, and then in as
// few loads. work bounds the steps, 0 for no bound; the same problem with
// the same work gives the same plan.
//
// It walks through the open days with every set of parties that may still wait and
// the cheapest way to it, and leaves aside a state only when another of that day is
// no dearer with fewer waiting, or when what it will cost at least is no less than a
// plan already found. Narrow walks first find good plans; the last walk leaves nothing
// aside without proof, unless the work runs out.
//
// The error is unit.Faults, wraps ErrNoPlan, is ErrNoneYet, or says that a plan did
// not pass Check, which is a mistake in here.
func PlanAhead(a Ahead, work int64) (Plan, error) {
	f := a.faults()
	mixes, few := a.mixesOf()
	if !few {
		f.Add("conflict", fmt.Sprintf("the conflicts leave more than %d ways to fill a load", maxMixes))
	}
	if err := f.Err(); err != nil {
		return Plan{}, err
	}
	days := slices.Clone(a.Open)
	slices.SortFunc(days, func(a, b OpenDay) int { return cmp.Compare(a.Day, b.Day) })
	items, never := a.parties(days, mixes)
	if len(never) > 0 {
		return Plan{}, fmt.Errorf("%w: %s", ErrNoPlan, strings.Join(never, "; "))
	}
	w := &walk{days: days, mixes: len(mixes), items: slices.Clone(items), limit: work}
	const none = price(1) << 62
	base := 0
	for _, t := range items {
		base += t.cost[0]
	}
	var best [][]load
	floor := price(0)
	// First as if few late days were enough: then parties have short windows.
	most := base
	for _, t := range items {
		most += t.cost[len(t.cost)-1] - t.cost[0]
	}
	room := base
	for width, known := 100, none; ; {
		w.best = known
		if best == nil {
			w.best = min(none, oneLate*price(room+1))
		}
		for i := range items {
			t := items[i]
			for t.last > t.first && t.late(t.last)-t.cost[0] > w.best.late()-base {
				t.last--
			}
			w.items[i] = t
		}
		if !w.ready() {
			return Plan{}, fmt.Errorf("%w: more than %d parties wait at one time, more than can be planned", ErrNoneYet, maxLive)
		}
		plan, got, missed := w.run(width)
		floor = max(floor, missed)
		if plan != nil {
			best, known = plan, got
		}
		switch {
		case best != nil && floor >= known, width == widest:
			w.best = known
		case best == nil && room < most:
			room = min(most, base+2*(room-base)+1)
			continue
		default:
			width = min(widest, 20*width)
			continue
		}
		break
	}
	if best == nil {
		if floor >= oneLate*price(most+1) {
			return Plan{}, fmt.Errorf("%w: each could hang alone, but not all of them on the hooks there are", ErrNoPlan)
		}
		return Plan{}, ErrNoneYet
	}
	p := Plan{LateDays: w.best.late(), Loads: w.best.loads(), Work: w.used, Status: Limit, LateBound: floor.late()}
	if floor >= w.best {
		p.Status, p.LateBound, p.Bound = Proven, p.LateDays, p.Loads
	} else if p.Bound = w.bound.least(waits{}, 0, nil).loads(); floor.late() == p.LateDays {
		p.Bound = max(p.Bound, floor.loads())
	}
	for i, loads := range best {
		for slot, l := range loads {
			b := Batch{Day: days[i].Day, Slot: slot}
			for _, t := range l {
				b.Slabs = append(b.Slabs, w.items[t].ids...)
			}
			slices.Sort(b.Slabs)
			p.Batches = append(p.Batches, b)
		}
	}
	if err := p.Check(a); err != nil {
		return Plan{}, fmt.Errorf("smoke: the plan does not pass its check: %w", err)
	}
	return p, nil
}

// ready lays out slots, order of hardness and bounds for the items as they stand, or
// says that too many wait at one time.
func (w *walk) ready() bool {
	n := len(w.days)
	w.comes, w.goes, w.at = make([][]int, n), make([][]int, n), make([][]int, n)
	for i, t := range w.items {
		w.comes[t.first] = append(w.comes[t.first], i)
		w.goes[t.last] = append(w.goes[t.last], i)
	}
	at := make([]int, maxLive)
	for s := range at {
		at[s] = -1
	}
	w.words = 1
	for i := range n {
		for _, t := range w.comes[i] {
			s := slices.Index(at, -1)
			if s < 0 {
				return false
			}
			at[s], w.items[t].slot = t, s
			w.words = max(w.words, s>>6+1)
		}
		w.at[i] = slices.Clone(at)
		for _, t := range w.goes[i] {
			at[w.items[t].slot] = -1
		}
	}
	w.harder = make([][]bool, len(w.items))
	for i := range w.items {
		w.harder[i] = make([]bool, len(w.items))
		for k := range w.items {
			a, b := &w.items[i], &w.items[k]
			if i == k || a.first > b.last || b.first > a.last {
				continue
			}
			w.harder[i][k] = a.asHard(b) && (i < k || !b.asHard(a))
		}
	}
	w.bound = boundsOf(w.items, w.days)
	return true
}

// asHard says whether t may hang nowhere later that o may not, and wins by hanging
// earlier at least as much: then t hangs first of the two.
func (t *item) asHard(o *item) bool {
	if t.size != o.size || t.bottom != o.bottom || t.mixes&^o.mixes != 0 || t.last > o.last {
		return false
	}
	for d := max(t.first, o.first) + 1; d <= t.last; d++ {
		if t.late(d)-t.late(d-1) < o.late(d)-o.late(d-1) {
			return false
		}
	}
	return true
}
