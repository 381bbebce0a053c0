package order

import (
	"cmp"
	"fmt"
	"slices"

	"flitchbook/planner/integer"
)

// stay is pieces lying in a room from one day to another, both included.
type stay struct {
	from, to int
	term     integer.Term
}

// pool is one kind's freezer: pieces go in on delivery days, and class days take them.
type pool struct {
	kind  *Kind
	ins   []dated // by delivery day
	outs  []taken
	days  []int // class days, ascending
	after []int // column of what is left, old enough, after each
}

type dated struct{ day, col int }
type taken struct{ class, leaves, col int }

// pools keeps each kind's freezer as a pool of pieces old enough to count as frozen,
// class day by class day. With A what is left in it after a class day,
//
//	A = A before + pieces that became old enough − pieces taken,   A ≥ 0,
//
// and what is left must be young enough for the next class day. Taking the oldest
// first then serves everyone: windows of all classes are equally long, so the i-th
// piece frozen can go to the i-th piece taken whenever any other matching can.
func (m *model) pools(needs map[[2]int][]integer.Term, cooler *[]stay) []*pool {
	p := m.p
	var all []*pool
	for k := range p.Kinds {
		if !m.chained[k] {
			continue
		}
		q := &pool{kind: &p.Kinds[k]}
		for _, z := range m.in {
			if z.kind == k {
				q.ins = append(q.ins, dated{p.Offers[z.offer].Day, z.col})
			}
		}
		if len(q.ins) == 0 {
			continue
		}
		slices.SortStableFunc(q.ins, func(a, b dated) int { return cmp.Compare(a.day, b.day) })
		most := 0
		for c := range p.Classes {
			cl := &p.Classes[c]
			n := cl.need(q.kind.Name)
			if n == 0 || !slices.Contains(cl.FrozenOK, q.kind.Name) {
				continue
			}
			col := m.prog.Col(fmt.Sprintf("thaw_%d_%d", c, k), 0, int64(n), 0)
			m.out = append(m.out, useCol{col, -1, c, k})
			needs[[2]int{c, k}] = append(needs[[2]int{c, k}], term(col, 1))
			most += n
			thaw := countOf(cl.Thaw, q.kind.Name)
			q.outs = append(q.outs, taken{cl.Day, cl.Day - thaw, col})
			q.days = append(q.days, cl.Day)
			if thaw > 0 {
				*cooler = append(*cooler, stay{cl.Day - thaw, cl.Day, term(col, q.kind.Space)})
			}
		}
		slices.Sort(q.days)
		q.days = slices.Compact(q.days)
		m.chain(k, q, most)
		all = append(all, q)
	}
	return all
}

func (m *model) chain(k int, q *pool, most int) {
	ripe := 0
	last := len(q.days) - 1
	for i, d := range q.days {
		var row []integer.Term
		if i > 0 {
			row = append(row, term(q.after[i-1], 1))
		}
		for ; ripe < len(q.ins) && d-q.ins[ripe].day > q.kind.FreshMax; ripe++ {
			row = append(row, term(q.ins[ripe].col, 1))
		}
		for _, t := range q.outs {
			if t.class == d {
				row = append(row, term(t.col, -1))
			}
		}
		left := most
		if i == last {
			left = 0
		}
		col := m.prog.Col(fmt.Sprintf("pool_%d_%d", k, d), 0, int64(left), 0)
		q.after = append(q.after, col)
		m.prog.Row(fmt.Sprintf("pool_%d_%d", k, d), 0, 0, append(row, term(col, -1))...)
		if i == last {
			return
		}
		young := []integer.Term{term(col, 1)}
		for _, z := range q.ins[:ripe] {
			if q.days[i+1]-z.day <= q.kind.FrozenMax {
				young = append(young, term(z.col, -1))
			}
		}
		m.prog.Row(fmt.Sprintf("age_%d_%d", k, d), -integer.Open, 0, young...)
	}
}

// on is what the pool fills on a day: what is left after the last class day, what came
// since and is not yet old enough, and what is thawing out of step with its class.
func (q *pool) on(day int) []integer.Term {
	var t []integer.Term
	since := never // the last class day
	for i, d := range q.days {
		if d <= day {
			since = d
			if i == len(q.days)-1 || q.days[i+1] > day {
				t = append(t, term(q.after[i], q.kind.Space))
			}
		}
	}
	for _, z := range q.ins {
		if z.day <= day && since-z.day <= q.kind.FreshMax {
			t = append(t, term(z.col, q.kind.Space))
		}
	}
	for _, v := range q.outs {
		switch {
		case v.class <= since && v.leaves >= day:
			t = append(t, term(v.col, q.kind.Space))
		case v.class > since && v.leaves < day:
			t = append(t, term(v.col, -q.kind.Space))
		}
	}
	return t
}

const never = -1 << 30

// room bounds what lies in a cold room. Only days can be fullest on which something
// leaves, and of two of them only the earlier unless something came between; where
// the room's size changes from day to day, every day counts.
func (m *model) room(name string, r Room, stays []stay, pools []*pool) {
	var comes, leaves []int
	for _, s := range stays {
		comes, leaves = append(comes, s.from), append(leaves, s.to)
	}
	for _, q := range pools {
		for _, z := range q.ins {
			comes = append(comes, z.day)
		}
		for _, v := range q.outs {
			leaves = append(leaves, v.leaves)
		}
	}
	if len(leaves) == 0 {
		return
	}
	slices.Sort(comes)
	slices.Sort(leaves)
	days := slices.Compact(leaves)
	if len(r.Except) > 0 {
		first, last := comes[0], days[len(days)-1]
		days = nil
		for d := first; d <= last; d++ {
			days = append(days, d)
		}
	}
	since := never
	for _, d := range days {
		at, _ := slices.BinarySearch(comes, since+1)
		if len(r.Except) == 0 && (at == len(comes) || comes[at] > d) {
			continue
		}
		var row []integer.Term
		for _, s := range stays {
			if s.from <= d && d <= s.to {
				row = append(row, s.term)
			}
		}
		for _, q := range pools {
			row = append(row, q.on(d)...)
		}
		if len(row) > 0 {
			m.prog.Row(fmt.Sprintf("%s_%d", name, d), -integer.Open, int64(r.on(d)), row...)
		}
		since = d
	}
}
