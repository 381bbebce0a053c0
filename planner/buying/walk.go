package buying

import (
	"cmp"
	"fmt"
	"maps"
	"math/bits"
	"slices"

	"flitchbook/planner/carcass"
	"flitchbook/planner/demand"
	"flitchbook/planner/unit"
)

// The walk goes through the kill weeks in order of time. A week's orders depend on what
// came before only through which classes are fed already, and outlets are counted by the
// week: for every set of classes fed so far, the cheapest few ways are kept, different in
// what they buy. Each week every way of giving its classes a kill day and a farm, or
// leaving them for later, is tried. That is exact, and quick while few classes overlap.

// most is how many ways one plan may try before package order takes over.
const most = 2_000_000

// A way is what was bought up to a week.
type way struct {
	unfed int        // classes nobody feeds: fewer is better than any money
	cost  unit.Money // of animals less sales
	off   int        // days off the wanted ones, all classes together
	buys  string     // what is bought, for telling ways apart
	cells []cell     // this week's
	prev  *way
}

func (a *way) better(b *way) int {
	return cmp.Or(cmp.Compare(a.unfed, b.unfed), cmp.Compare(a.cost, b.cost), cmp.Compare(a.off, b.off), cmp.Compare(a.buys, b.buys))
}

// A cell is one farm's animals of one kill day.
type cell struct {
	day, farm int // indices
	set       uint64
	animals   int
}

type walker struct {
	in    Input
	days  []Day
	asks  []int   // indices of the classes planned
	kills [][]int // by asked class: indices of its days
	last  []int   // and its last week
	weeks [][]int // indices of days
	needs map[needKey]need
	sold  map[overKey]unit.Money
	slabs []int // a belly of each farm gives
	tried int
	keep  int
}

type needKey struct {
	farm int
	set  uint64
}

// need is what a set of classes asks of a farm.
type need struct {
	animals int
	over    over
}

// over is what is left to sell: sides without their bellies, and bellies.
type over struct{ sides, bellies int }

func (a over) plus(b over) over { return over{a.sides + b.sides, a.bellies + b.bellies} }

type overKey struct {
	farm int
	over
}

// walk plans exactly, or reports false when that would take too long.
func (in Input) walk(keep int) (ways []*way, w *walker, ok bool, err error) {
	w = &walker{in: in, keep: max(1, keep), needs: map[needKey]need{}, sold: map[overKey]unit.Money{}}
	w.days = slices.SortedFunc(slices.Values(in.Days), func(a, b Day) int { return cmp.Compare(a.Kill, b.Kill) })
	w.days = slices.DeleteFunc(w.days, func(d Day) bool { return d.Free < 1 })
	at := map[unit.Day]int{}
	var week unit.Day
	for i, d := range w.days {
		at[d.Kill] = i
		if m := d.Kill.Monday(); len(w.weeks) == 0 || m != week {
			week = m
			w.weeks = append(w.weeks, nil)
		}
		w.weeks[len(w.weeks)-1] = append(w.weeks[len(w.weeks)-1], i)
	}
	weekOf := map[int]int{}
	for n, days := range w.weeks {
		for _, d := range days {
			weekOf[d] = n
		}
	}
	for i, c := range in.Classes {
		if c.Seats.At(in.Level) == 0 || len(c.Kills) == 0 {
			continue
		}
		var kills []int
		last := -1
		for _, k := range c.Kills {
			if d, ok := at[k]; ok {
				kills, last = append(kills, d), max(last, weekOf[d])
			}
		}
		w.asks, w.kills, w.last = append(w.asks, i), append(w.kills, kills), append(w.last, last)
	}
	if len(w.asks) > 60 {
		return nil, w, false, nil
	}
	for _, f := range in.Farms {
		w.slabs = append(w.slabs, f.Profile.PerBelly(in.Rule, carcass.Skinless).Slabs.Count)
	}
	first := &way{}
	for i := range w.asks {
		if w.last[i] < 0 { // every place of its days is taken
			first.unfed++
		}
	}
	states := map[uint64][]*way{0: {first}}
	for n := range w.weeks {
		next := map[uint64][]*way{}
		for _, set := range slices.Sorted(maps.Keys(states)) {
			if ok, err := w.week(n, set, states[set], next); !ok || err != nil {
				return nil, w, false, err
			}
		}
		states = next
	}
	for _, set := range slices.Sorted(maps.Keys(states)) {
		ways = append(ways, states[set]...)
	}
	slices.SortStableFunc(ways, (*way).better)
	return ways[:min(len(ways), w.keep)], w, true, nil
}

// week tries every way to go on from a set of classes fed so far.
func (w *walker) week(n int, fed uint64, from []*way, next map[uint64][]*way) (bool, error) {
	var open []int
	for i := range w.asks {
		if fed&(1<<i) == 0 && slices.ContainsFunc(w.kills[i], func(d int) bool { return slices.Contains(w.weeks[n], d) }) {
			open = append(open, i)
		}
	}
	var cells []cell
	for _, d := range w.weeks[n] {
		for f := range w.in.Farms {
			cells = append(cells, cell{day: d, farm: f})
		}
	}
	fits := func(i int, c cell) bool {
		return slices.Contains(w.kills[i], c.day) && (w.in.Classes[w.asks[i]].Unit != demand.Belly || w.slabs[c.farm] > 0)
	}
	unfed := 0
	var try func(at int) (bool, error)
	try = func(at int) (bool, error) {
		if at == len(open) {
			if w.tried++; w.tried > most {
				return false, nil
			}
			return true, w.settle(fed, from, cells, unfed, next)
		}
		i := open[at]
		for k := range cells {
			if !fits(i, cells[k]) {
				continue
			}
			cells[k].set |= 1 << i
			if ok, err := w.has(cells, cells[k]); err != nil {
				return false, err
			} else if ok {
				if ok, err := try(at + 1); !ok || err != nil {
					return ok, err
				}
			}
			cells[k].set &^= 1 << i
		}
		if w.last[i] == n {
			unfed++
			defer func() { unfed-- }()
		}
		return try(at + 1)
	}
	return try(0)
}

// has says whether a kill day has places for what its cells ask so far. More classes
// never ask for fewer animals.
func (w *walker) has(cells []cell, c cell) (bool, error) {
	sum := 0
	for _, o := range cells {
		if o.day == c.day && o.set != 0 {
			n, err := w.need(o.farm, o.set)
			if err != nil {
				return false, err
			}
			sum += n.animals
		}
	}
	return sum <= w.days[c.day].Free, nil
}

// need reckons a set of classes from one farm by the rules of package demand.
func (w *walker) need(farm int, set uint64) (need, error) {
	key := needKey{farm, set}
	if n, ok := w.needs[key]; ok {
		return n, nil
	}
	d, err := w.in.reckon(farm, w.codes(set))
	if err != nil {
		return need{}, err
	}
	n := need{d.Animals, w.in.over(farm, d, d.Animals)}
	w.needs[key] = n
	return n, nil
}

func (w *walker) codes(set uint64) (codes []string) {
	for i := range w.asks {
		if set&(1<<i) != 0 {
			codes = append(codes, w.in.Classes[w.asks[i]].Code)
		}
	}
	return codes
}

// settle reckons a week's cells, buys what pays for itself besides, and goes on from each
// way that led here.
func (w *walker) settle(fed uint64, from []*way, cells []cell, unfed int, next map[uint64][]*way) error {
	week := slices.Clone(cells)
	cost, off, set := unit.Money(0), 0, fed
	left := make([]over, len(w.in.Farms))
	for k := range week {
		c := &week[k]
		if c.set == 0 {
			continue
		}
		n, err := w.need(c.farm, c.set)
		if err != nil {
			return err
		}
		c.animals = n.animals
		cost += w.in.Farms[c.farm].Animal() * unit.Money(n.animals)
		left[c.farm] = left[c.farm].plus(n.over)
		set |= c.set
		for s := c.set; s != 0; s &= s - 1 {
			days := int(w.in.Classes[w.asks[bits.TrailingZeros64(s)]].Day-w.days[c.day].Kill) - w.in.Target
			off += max(days, -days)
		}
	}
	if len(w.in.Outlets) > 0 {
		cost += w.sell(week, left)
	}
	week = slices.DeleteFunc(week, func(c cell) bool { return c.animals == 0 })
	for _, p := range from {
		w.keepWay(next, set, &way{unfed: p.unfed + unfed, cost: p.cost + cost, off: p.off + off, cells: week, prev: p})
	}
	return nil
}

// keepWay puts a way among the best of its set, unless it buys what a better one buys.
func (w *walker) keepWay(next map[uint64][]*way, set uint64, v *way) {
	all := next[set]
	if len(all) == w.keep {
		if last := all[w.keep-1]; cmp.Or(cmp.Compare(v.unfed, last.unfed), cmp.Compare(v.cost, last.cost), cmp.Compare(v.off, last.off)) > 0 {
			return
		}
	}
	v.buys = v.prev.buys
	for _, c := range v.cells {
		v.buys += fmt.Sprintf("%d/%d/%d ", c.day, c.farm, c.animals)
	}
	if i := slices.IndexFunc(all, func(o *way) bool { return o.buys == v.buys }); i >= 0 {
		if v.better(all[i]) >= 0 {
			return
		}
		all = slices.Delete(all, i, i+1)
	}
	at, _ := slices.BinarySearchFunc(all, v, (*way).better)
	all = slices.Insert(all, at, v)
	next[set] = all[:min(len(all), w.keep)]
}

// sell is what a week costs and brings besides the animals its classes need: what is left
// goes to the outlets, and animals are bought for the outlets alone as long as they pay.
// What outlets bring falls with every pound, so buying the best one first, and stopping
// when none pays, is best.
func (w *walker) sell(week []cell, left []over) (cost unit.Money) {
	for f, o := range left {
		cost -= w.brings(f, o)
	}
	whole := over{sides: 2, bellies: 2}
	for {
		best, gain := -1, unit.Money(0)
		for k, c := range week {
			if w.room(week, c.day) < 1 {
				continue
			}
			more := w.brings(c.farm, left[c.farm].plus(whole)) - w.brings(c.farm, left[c.farm]) - w.in.Farms[c.farm].Animal()
			if more > gain {
				best, gain = k, more
			}
		}
		if best < 0 {
			return cost
		}
		c := &week[best]
		c.animals++
		left[c.farm] = left[c.farm].plus(whole)
		cost -= gain
	}
}

func (w *walker) room(week []cell, day int) int {
	free := w.days[day].Free
	for _, c := range week {
		if c.day == day {
			free -= c.animals
		}
	}
	return free
}

// brings is what a week's outlets pay for what one farm's animals leave.
func (w *walker) brings(farm int, o over) unit.Money {
	key := overKey{farm, o}
	m, ok := w.sold[key]
	if !ok {
		m = carcass.Sell(w.in.cuts(farm, o), w.in.Outlets, 1).Money
		w.sold[key] = m
	}
	return m
}
