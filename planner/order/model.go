package order

import (
	"fmt"
	"slices"

	"flitchbook/planner/integer"
)

// model is the problem as whole numbers to be chosen.
type model struct {
	p       *Problem
	prog    integer.Program
	kind    map[string]int
	form    map[string]int
	usable  []bool  // offers
	most    [][]int // pieces of each kind an offer can give
	why     []string
	units   []unitsCol
	broken  []pieceCol
	fresh   []useCol
	frozen  []useCol   // kinds whose frozen pieces are followed one by one
	in      []pieceCol // pieces of an offer put into the freezer
	out     []useCol   // pieces a class takes from it (offer −1)
	sold    []pieceCol
	chained []bool         // by kind: the freezer is kept as a pool
	one     map[[2]int]int // by class and offer: whether it feeds a class that wants one offer
}

type unitsCol struct{ col, offer, form int }
type pieceCol struct{ col, offer, kind int }
type useCol struct{ col, offer, class, kind int }

func term(col int, coef int) integer.Term { return integer.Term{Col: col, Coef: int64(coef)} }

func (c *Class) need(kind string) int { return countOf(c.Demand, kind) }

func countOf(list []Count, name string) int {
	n := 0
	for _, c := range list {
		if c.Name == name {
			n += c.N
		}
	}
	return n
}

func build(p *Problem) *model {
	m := &model{p: p, kind: map[string]int{}, form: map[string]int{}, one: map[[2]int]int{}}
	for i, k := range p.Kinds {
		m.kind[k.Name] = i
	}
	for i, f := range p.Forms {
		m.form[f.Name] = i
	}
	m.chained = make([]bool, len(p.Kinds))
	for k := range p.Kinds {
		m.chained[k] = true
		for i := range p.Classes {
			// A long thaw would let a younger piece be too late where an older is not.
			// Nor does a pool know whose pieces a class may have.
			if c := &p.Classes[i]; c.need(p.Kinds[k].Name) > 0 && (c.From != nil || c.OneOffer || countOf(c.Thaw, p.Kinds[k].Name) > p.Kinds[k].FreshMax+1) {
				m.chained[k] = false
			}
		}
	}
	needs := make(map[[2]int][]integer.Term) // of a class and kind
	outlet := make(map[[2]int][]integer.Term)
	slots := make(map[string][]integer.Term)
	var cooler, freezer []stay
	m.usable, m.why = make([]bool, len(p.Offers)), make([]string, len(p.Offers))
	for o := range p.Offers {
		m.most = append(m.most, m.supply(o))
		m.offer(o, needs, outlet, slots, &cooler, &freezer)
	}
	pools := m.pools(needs, &cooler)
	for i := range p.Classes {
		for k := range p.Kinds {
			if n := p.Classes[i].need(p.Kinds[k].Name); n > 0 {
				m.prog.Row(fmt.Sprintf("need_%d_%d", i, k), int64(n), int64(n), needs[[2]int{i, k}]...)
			}
		}
	}
	for k := range p.Kinds {
		for w := range p.Kinds[k].Outlet {
			if t := outlet[[2]int{k, w}]; len(t) > 0 {
				m.prog.Row(fmt.Sprintf("outlet_%d_%d", k, w), -integer.Open, int64(p.Kinds[k].Outlet[w]), t...)
			}
		}
	}
	for i, s := range p.Slots {
		if t := slots[s.Name+"\x00"+s.Group]; len(t) > 0 {
			m.prog.Row(fmt.Sprintf("slot_%d", i), -integer.Open, int64(s.Most), t...)
		}
	}
	m.room("cooler", p.Cooler, cooler, nil)
	m.room("freezer", p.Freezer, freezer, pools)
	return m
}

// supply is the most pieces of each kind an offer can give.
func (m *model) supply(o int) []int {
	p := m.p
	most := make([]int, len(p.Kinds))
	for _, c := range p.Offers[o].Caps {
		// Forms of one group share its cap: the one richest in a kind bounds them all.
		for k := range p.Kinds {
			best := 0
			for _, pr := range p.Offers[o].Prices {
				if f := p.Forms[m.form[pr.Form]]; f.Group == c.Name && f.Size <= c.N {
					best = max(best, c.N*countOf(f.Gives, p.Kinds[k].Name)/f.Size)
				}
			}
			most[k] += best
		}
	}
	for _, k := range m.topDown() {
		for _, b := range p.Kinds[k].BreaksInto {
			most[m.kind[b.Name]] += most[k] * b.N
		}
	}
	return most
}

// topDown lists kinds so that each comes before what it breaks into.
func (m *model) topDown() []int {
	var out []int
	done := make([]bool, len(m.p.Kinds))
	var visit func(k int)
	visit = func(k int) {
		if done[k] {
			return
		}
		done[k] = true
		for _, b := range m.p.Kinds[k].BreaksInto {
			visit(m.kind[b.Name])
		}
		out = append(out, k)
	}
	for k := len(m.p.Kinds) - 1; k >= 0; k-- {
		visit(k)
	}
	slices.Reverse(out)
	return out
}

func (m *model) offer(o int, needs, outlet map[[2]int][]integer.Term, slots map[string][]integer.Term, cooler, freezer *[]stay) {
	p := m.p
	of := &p.Offers[o]
	if of.HasOrderBy && of.OrderBy < p.Today {
		m.why[o] = fmt.Sprintf("too late: it had to be ordered by %s", p.day(of.OrderBy))
		return
	}
	most := m.most[o]
	total := 0
	for _, n := range most {
		total += n
	}
	if total == 0 {
		m.why[o] = "nothing can be had"
		return
	}
	m.usable[o] = true
	yes := -1
	if of.Drop != 0 {
		yes = m.prog.Col(fmt.Sprintf("drop_%d", o), 0, 1, int64(of.Drop))
	}
	gives := make([][]integer.Term, len(p.Kinds))
	for _, cap := range of.Caps {
		var used []integer.Term
		for _, pr := range of.Prices {
			f := p.Forms[m.form[pr.Form]]
			if f.Group != cap.Name || cap.N < f.Size {
				continue
			}
			col := m.prog.Col(fmt.Sprintf("buy_%d_%d", o, m.form[pr.Form]), 0, int64(cap.N/f.Size), int64(pr.Unit))
			m.units = append(m.units, unitsCol{col, o, m.form[pr.Form]})
			used = append(used, term(col, f.Size))
			for _, g := range f.Gives {
				gives[m.kind[g.Name]] = append(gives[m.kind[g.Name]], term(col, g.N))
			}
		}
		if len(used) == 0 {
			continue
		}
		if of.Slot != "" {
			slots[of.Slot+"\x00"+cap.Name] = append(slots[of.Slot+"\x00"+cap.Name], used...)
		}
		if yes >= 0 {
			m.prog.Row(fmt.Sprintf("cap_%d_%s", o, cap.Name), -integer.Open, 0, append(used, term(yes, -cap.N))...)
		} else {
			m.prog.Row(fmt.Sprintf("cap_%d_%s", o, cap.Name), -integer.Open, int64(cap.N), used...)
		}
	}
	// flow adds a column that takes pieces of this offer.
	flow := func(name string, k int, hi int, cost int64) int {
		hi = min(hi, most[k])
		col := m.prog.Col(name, 0, int64(hi), cost)
		gives[k] = append(gives[k], term(col, -1))
		if yes >= 0 {
			m.prog.Imply("with_"+name, -integer.Open, 0, term(col, 1), term(yes, -hi))
		}
		return col
	}
	for _, k := range m.topDown() {
		kind := &p.Kinds[k]
		if most[k] == 0 {
			continue
		}
		if len(kind.BreaksInto) > 0 {
			col := m.prog.Col(fmt.Sprintf("break_%d_%d", o, k), 0, int64(most[k]), 0)
			m.broken = append(m.broken, pieceCol{col, o, k})
			gives[k] = append(gives[k], term(col, -1))
			for _, b := range kind.BreaksInto {
				gives[m.kind[b.Name]] = append(gives[m.kind[b.Name]], term(col, b.N))
			}
		}
		keep := false
		for c := range p.Classes {
			cl := &p.Classes[c]
			n := cl.need(kind.Name)
			if n == 0 || !cl.takes(of.ID) || cl.OneOffer && most[k] < n {
				continue
			}
			age := cl.Day - of.Day
			switch {
			case kind.freshAt(age):
				col := flow(fmt.Sprintf("fresh_%d_%d_%d", o, c, k), k, n, 0)
				m.whole(o, c, k, col, n)
				m.fresh = append(m.fresh, useCol{col, o, c, k})
				needs[[2]int{c, k}] = append(needs[[2]int{c, k}], term(col, 1))
				*cooler = append(*cooler, stay{of.Day, cl.Day, term(col, kind.Space)})
			case cl.frozenAt(kind, age):
				keep = true
				if m.chained[k] {
					continue
				}
				thaw := countOf(cl.Thaw, kind.Name)
				col := flow(fmt.Sprintf("frozen_%d_%d_%d", o, c, k), k, n, int64(kind.FreezeCost))
				m.whole(o, c, k, col, n)
				m.frozen = append(m.frozen, useCol{col, o, c, k})
				needs[[2]int{c, k}] = append(needs[[2]int{c, k}], term(col, 1))
				*freezer = append(*freezer, stay{of.Day, cl.Day - thaw, term(col, kind.Space)})
				if thaw > 0 {
					*cooler = append(*cooler, stay{cl.Day - thaw, cl.Day, term(col, kind.Space)})
				}
			}
		}
		if keep && m.chained[k] {
			col := flow(fmt.Sprintf("freeze_%d_%d", o, k), k, most[k], int64(kind.FreezeCost))
			m.in = append(m.in, pieceCol{col, o, k})
		}
		if w := p.week(of.Day); kind.Value > 0 && w >= 0 && w < len(kind.Outlet) && kind.Outlet[w] > 0 {
			col := flow(fmt.Sprintf("sell_%d_%d", o, k), k, kind.Outlet[w], -int64(kind.Value))
			m.sold = append(m.sold, pieceCol{col, o, k})
			outlet[[2]int{k, w}] = append(outlet[[2]int{k, w}], term(col, 1))
		}
	}
	for k, t := range gives {
		if most[k] > 0 {
			m.prog.Row(fmt.Sprintf("pieces_%d_%d", o, k), 0, integer.Open, t...)
		}
	}
}

// whole keeps a class that wants one offer to it: the offer gives all its pieces of the
// kind or none.
func (m *model) whole(o, c, k, col, n int) {
	if !m.p.Classes[c].OneOffer {
		return
	}
	yes, ok := m.one[[2]int{c, o}]
	if !ok {
		yes = m.prog.Col(fmt.Sprintf("one_%d_%d", c, o), 0, 1, 0)
		m.one[[2]int{c, o}] = yes
	}
	m.prog.Row(fmt.Sprintf("whole_%d_%d_%d", o, c, k), 0, 0, term(col, 1), term(yes, -n))
}

func (k *Kind) freshAt(age int) bool { return age >= k.FreshMin && age <= k.FreshMax }

func (c *Class) frozenAt(k *Kind, age int) bool {
	return age > k.FreshMax && age <= k.FrozenMax && age >= countOf(c.Thaw, k.Name) && slices.Contains(c.FrozenOK, k.Name)
}

func (p *Problem) week(day int) int {
	d := day + p.Week0
	if d < 0 {
		return -1
	}
	return d / 7
}

func (p *Problem) day(d int) string {
	if p.DayName != nil {
		return p.DayName(d)
	}
	return fmt.Sprintf("day %d", d)
}
