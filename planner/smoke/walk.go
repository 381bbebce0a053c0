package smoke

import (
	"cmp"
	"math/bits"
	"slices"
)

// mostStates of one day are looked at.
const mostStates = 4 * widest

// words is how many words hold the parties that wait at one time.
const words = 8

// waits is a set of waiting parties, by their slots.
type waits [words]uint64

func (w *waits) put(slot int)      { w[slot>>6] |= 1 << (slot & 63) }
func (w *waits) drop(slot int)     { w[slot>>6] &^= 1 << (slot & 63) }
func (w *waits) has(slot int) bool { return w[slot>>6]>>(slot&63)&1 == 1 }

func (w *waits) within(o *waits, n int) bool {
	for i := range n {
		if w[i]&^o[i] != 0 {
			return false
		}
	}
	return true
}

func (w *waits) count() (n int) {
	for _, x := range w {
		n += bits.OnesCount64(x)
	}
	return n
}

// price is late days, then loads: the order in which plans are compared.
type price int64

const oneLate price = 1 << 20

func (p price) late() int  { return int(p / oneLate) }
func (p price) loads() int { return int(p % oneLate) }

// node is what may wait on the evening of a day, and the cheapest way there.
type node struct {
	waits waits
	price price // so far
	least price // at least, to the end
	from  int32 // index in the day before
}

// walk goes through the open days with every state worth keeping.
type walk struct {
	days   []OpenDay
	mixes  int
	items  []item
	comes  [][]int // items by first day
	goes   [][]int // items by last day
	at     [][]int // by day and slot: the item there, or -1
	words  int
	harder [][]bool
	bound  *bounds
	best   price // of a known plan; only cheaper ones are looked for
	used   int64
	limit  int64 // of used; 0 for none
	cut    bool  // the limit stopped an expansion
}

// load is the parties of one load, as items.
type load []int

// run walks all days keeping at most width states a day. It returns the cheapest
// plan under w.best, if there is one, and the least price of any state it had to
// leave aside: a plan cheaper than that was not missed.
func (w *walk) run(width int) (plan [][]load, got price, missed price) {
	missed = w.best
	levels := make([][]node, len(w.days)+1)
	levels[0] = []node{{least: w.bound.least(waits{}, 0, nil), from: -1}}
	if levels[0][0].least >= w.best {
		return nil, 0, missed
	}
	for i := range w.days {
		index := map[waits]int{}
		var next []node
		for n, from := range levels[i] {
			if w.spent() { // left aside like states beyond the width
				missed = min(missed, from.least)
				continue
			}
			morning := from.waits
			for _, t := range w.comes[i] {
				morning.put(w.items[t].slot)
			}
			w.expand(i, morning, from.price, func(evening waits, p price, _ []load) bool {
				w.used++
				for _, t := range w.goes[i] {
					if evening.has(w.items[t].slot) {
						return true
					}
				}
				least := p + w.bound.least(evening, i+1, w.at[i])
				if least >= w.best {
					return true
				}
				if k, ok := index[evening]; ok {
					if p < next[k].price {
						next[k] = node{evening, p, least, int32(n)}
					}
					return true
				}
				if len(next) == mostStates {
					missed = min(missed, least)
					return true
				}
				index[evening] = len(next)
				next = append(next, node{evening, p, least, int32(n)})
				return true
			})
			if w.cut {
				missed, w.cut = min(missed, from.least), false
			}
		}
		next = w.undominated(next)
		if len(next) > width {
			slices.SortStableFunc(next, func(a, b node) int {
				return cmp.Or(cmp.Compare(a.least, b.least), cmp.Compare(a.price, b.price), cmp.Compare(a.waits.count(), b.waits.count()))
			})
			for _, n := range next[width:] {
				missed = min(missed, n.least)
			}
			next = next[:width]
		}
		levels[i+1] = next
		if len(next) == 0 {
			return nil, 0, missed
		}
	}
	last := slices.MinFunc(levels[len(w.days)], func(a, b node) int { return cmp.Compare(a.price, b.price) })
	limit := w.limit
	w.limit = 0 // what was found once is found again
	defer func() { w.limit = limit }()
	plan = make([][]load, len(w.days))
	to := last
	for i := len(w.days) - 1; i >= 0; i-- {
		from := levels[i][to.from]
		morning := from.waits
		for _, t := range w.comes[i] {
			morning.put(w.items[t].slot)
		}
		w.expand(i, morning, from.price, func(evening waits, p price, loads []load) bool {
			if evening != to.waits || p != to.price {
				return true
			}
			for _, l := range loads {
				plan[i] = append(plan[i], slices.Clone(l))
			}
			return false
		})
		to = from
	}
	return plan, last.price, missed
}

func (w *walk) spent() bool { return w.limit > 0 && w.used >= w.limit }

// undominated keeps the states that no other is at least as good as: no dearer, and
// with no party waiting that does not wait in the other too.
func (w *walk) undominated(all []node) []node {
	slices.SortStableFunc(all, func(a, b node) int {
		return cmp.Or(cmp.Compare(a.price, b.price), cmp.Compare(a.waits.count(), b.waits.count()))
	})
	kept := all[:0]
	for _, n := range all {
		out := false
		for k := range kept {
			if kept[k].waits.within(&n.waits, w.words) {
				out = true
				break
			}
		}
		w.used += int64(len(kept)) / 256
		if !out {
			kept = append(kept, n)
		}
	}
	return kept
}

// expand tells each every way to run the day's loads that may be best, the loads with
// it, until each returns false. Loads are filled one after another, each as full as
// it can be: a party that waits for a load with room for it could as well hang now.
func (w *walk) expand(day int, morning waits, p price, each func(evening waits, p price, loads []load) bool) {
	o := w.days[day]
	var loads []load
	var more func(now waits, p price, from int) bool
	more = func(now waits, p price, from int) bool {
		if !each(now, p, loads) {
			return false
		}
		if len(loads) == o.Loads {
			return true
		}
		var waiting []int
		for i := range w.words {
			for x := now[i]; x != 0; x &= x - 1 {
				t := w.at[day][i<<6+bits.TrailingZeros64(x)]
				if it := &w.items[t]; it.first <= day && it.size <= o.Hooks && it.bottom <= o.Bottom {
					waiting = append(waiting, t)
				}
			}
		}
		slices.Sort(waiting)
		can := make([][]int, w.mixes)
		for m := range can {
			for _, t := range waiting {
				if w.items[t].mixes>>m&1 == 1 {
					can[m] = append(can[m], t)
				}
			}
		}
		for m := from; m < w.mixes; m++ {
			if len(can[m]) == 0 || w.covered(can, m, from) {
				continue
			}
			ok := w.fills(can[m], o.Hooks, o.Bottom, func(l load) bool {
				then, cost := now, p+1
				for _, t := range l {
					then.drop(w.items[t].slot)
					cost += oneLate * price(w.items[t].late(day))
				}
				loads = append(loads, l)
				ok := more(then, cost, m)
				loads = loads[:len(loads)-1]
				return ok
			})
			if !ok {
				return false
			}
		}
		return true
	}
	more(morning, p, 0)
}

// covered says whether another mix could take all that mix m can take now, and more,
// or the same and comes later: then m need not be tried.
func (w *walk) covered(can [][]int, m, from int) bool {
	for k := from; k < w.mixes; k++ {
		if k == m || len(can[k]) < len(can[m]) || len(can[k]) == len(can[m]) && k < m {
			continue
		}
		all := true
		for _, t := range can[m] {
			if w.items[t].mixes>>k&1 == 0 {
				all = false
				break
			}
		}
		if all {
			return true
		}
	}
	return false
}

// fills tells each every fullest load of the parties that may be best: where one
// party is harder to place later than another of its size, the easier one never hangs
// without it.
func (w *walk) fills(can []int, hooks, bottom int, each func(load) bool) bool {
	size, low := 0, 0
	for _, t := range can {
		size += w.items[t].size
		low += w.items[t].bottom
	}
	if size <= hooks && low <= bottom {
		return each(can)
	}
	// Harder parties first, so that an easier one is met after those it must follow.
	order := make([]int, 0, len(can))
	left := slices.Clone(can)
	for len(left) > 0 {
		k := slices.IndexFunc(left, func(t int) bool {
			return !slices.ContainsFunc(left, func(u int) bool { return u != t && w.harder[u][t] })
		})
		order = append(order, left[k])
		left = slices.Delete(left, k, k+1)
	}
	var in, out load
	var pick func(k, hooks, bottom int) bool
	pick = func(k, hooks, bottom int) bool {
		if w.spent() {
			w.cut = true
			return false
		}
		if k == len(order) {
			for _, t := range out {
				if w.items[t].size <= hooks && w.items[t].bottom <= bottom {
					return true // not the fullest
				}
			}
			l := slices.Clone(in)
			slices.Sort(l)
			return each(l)
		}
		w.used++
		t := order[k]
		it := &w.items[t]
		free := !slices.ContainsFunc(out, func(u int) bool { return w.harder[u][t] })
		if free && it.size <= hooks && it.bottom <= bottom {
			in = append(in, t)
			ok := pick(k+1, hooks-it.size, bottom-it.bottom)
			in = in[:len(in)-1]
			if !ok {
				return false
			}
		}
		out = append(out, t)
		ok := pick(k+1, hooks, bottom)
		out = out[:len(out)-1]
		return ok
	}
	return pick(0, hooks, bottom)
}
