package integer

import (
	"math"
	"slices"
)

const wholeTol = 1e-6

// enter loads a node's bounds into the box and works out what they imply.
func (s *search) enter(nd *node) bool {
	copy(s.b.lo, s.fix.lo)
	copy(s.b.hi, s.fix.hi)
	ok := true
	for at := nd; at != nil; at = at.parent {
		for _, c := range at.by {
			ok = s.press(c) && ok
		}
		if at.phase == s.phase {
			for _, c := range at.fixed {
				ok = s.press(c) && ok
			}
		}
	}
	return s.b.settle() && ok
}

func (s *search) press(c change) bool {
	b := s.b
	if c.lo > b.lo[c.col] || c.hi < b.hi[c.col] {
		b.lo[c.col], b.hi[c.col] = max(b.lo[c.col], c.lo), min(b.hi[c.col], c.hi)
		b.wake(c.col)
	}
	return b.lo[c.col] <= b.hi[c.col]
}

// load hands the box's bounds to the relaxation.
func (s *search) load() {
	for j := range s.n {
		s.l.lo[j], s.l.hi[j] = float64(s.b.lo[j]), float64(s.b.hi[j])
	}
}

func (s *search) limitValue() float64 {
	if c := s.cutoff(); c < never {
		return float64(c) + 1
	}
	return math.Inf(1)
}

// relax solves the relaxation within the box. It returns a proven bound; true when
// there is nothing below the cutoff here.
func (s *search) relax(most int64) (bound int64, out outcome, shut bool) {
	s.load()
	out = s.l.solve(s.limitValue(), most)
	for {
		switch out {
		case contradiction:
			if s.pr.contradicts(s.l.ray, s.b.lo, s.b.hi) {
				return never, out, true
			}
			return -never, stuck, false
		default:
			s.l.multipliers(s.y)
			v, ok := s.pr.bound(s.y, s.b.lo, s.b.hi)
			if !ok {
				return -never, stuck, false
			}
			bound = s.good(v)
			if bound >= s.cutoff() {
				return bound, out, true
			}
			if out == beyond {
				out = s.l.run(math.Inf(1), most)
				continue
			}
			return bound, out, false
		}
	}
}

// tighten narrows the box by the reduced costs of the last bound: a column that would
// cost more than is left below the cutoff cannot move further.
func (s *search) tighten() (by []change) {
	c := s.cutoff()
	if c >= never {
		return nil
	}
	room := times(c-s.unit, 1<<scale)
	low := s.pr.least(s.b.lo, s.b.hi)
	gap := room.add(wide{^low.hi, ^low.lo}.add(wide{0, 1}))
	if gap.negative() || gap.hi != 0 || gap.lo > math.MaxInt64 {
		return nil
	}
	g := int64(gap.lo)
	for j, d := range s.pr.d {
		lo, hi := s.b.lo[j], s.b.hi[j]
		if lo == hi || d == 0 {
			continue
		}
		if d > 0 {
			if k := g / d; k < hi-lo {
				by = append(by, change{int32(j), lo, lo + k})
			}
		} else if k := g / -d; k < hi-lo {
			by = append(by, change{int32(j), hi - k, hi})
		}
	}
	return by
}

// expand works on one node: closes it, or splits it. It returns the part to go on with
// at once and the parts to keep for later.
func (s *search) expand(nd *node, fresh bool) (next *node, rest []*node) {
	s.nodes++
	if !s.enter(nd) {
		s.close(nd, s.cutoff())
		return nil, nil
	}
	if !fresh {
		s.restore(nd.basis)
	}
	bound, out, shut := s.relax(20000)
	if shut {
		s.close(nd, min(bound, s.cutoff()))
		return nil, nil
	}
	nd.bound = max(nd.bound, bound)
	if nd.bound >= s.cutoff() {
		s.close(nd, nd.bound)
		return nil, nil
	}
	s.learn(nd)
	if out == optimal && !s.within && !fresh && s.want == 0 && s.aside < s.l.pivots/3 {
		s.l.solution(s.xf)
		s.between(mostNear / 2)
	}
	if out != optimal {
		return s.halve(nd)
	}
	s.l.solution(s.xf)
	if s.whole() {
		x := s.rounded()
		s.offer(x)
		if nd.bound >= s.cutoff() {
			s.close(nd, nd.bound)
			return nil, nil
		}
		return s.around(nd, x)
	}
	value := s.l.value
	if !s.narrow(nd) {
		return nil, nil
	}
	col, shutDown, shutUp := s.pick(nd)
	frac := s.xf[col]
	floor := int64(math.Floor(frac + wholeTol))
	if floor < s.b.lo[col] || floor >= s.b.hi[col] {
		return s.halve(nd) // the relaxation strayed outside the box: trust the box
	}
	s.remember(nd)
	down, up := s.atMost(nd, col, floor), s.atLeast(nd, col, floor+1)
	nd.basis = nil // its parts hold it now
	down.lesson = &lesson{col, false, frac - float64(floor), value}
	up.lesson = &lesson{col, true, frac - float64(floor), value}
	switch {
	case shutDown && shutUp:
		s.close(nd, s.cutoff())
		return nil, nil
	case shutDown:
		s.close(down, s.cutoff())
		return up, nil
	case shutUp:
		s.close(up, s.cutoff())
		return down, nil
	}
	// Go on with the likelier side: the nearer one, up for a yes/no.
	if frac-float64(floor) > 0.4 {
		return up, []*node{down}
	}
	return down, []*node{up}
}

// narrow applies tighten to a node for this phase; false when nothing is left of it.
func (s *search) narrow(nd *node) bool {
	nd.fixed, nd.phase = s.tighten(), s.phase
	ok := true
	for _, c := range nd.fixed {
		ok = s.press(c) && ok
	}
	if !s.b.settle() || !ok {
		s.close(nd, s.cutoff())
		return false
	}
	return true
}

func (s *search) learn(nd *node) {
	if t := nd.lesson; t != nil {
		s.note(t.col, t.up, t.frac, s.l.value-t.value)
		nd.lesson = nil
	}
}

func (s *search) note(col int, up bool, frac, rise float64) {
	rise = max(rise, 0)
	if up {
		s.up[col].sum += rise / max(1-frac, 1e-3)
		s.up[col].n++
	} else {
		s.down[col].sum += rise / max(frac, 1e-3)
		s.down[col].n++
	}
}

func (s *search) whole() bool {
	for _, v := range s.xf {
		if math.Abs(v-math.Round(v)) > wholeTol {
			return false
		}
	}
	return true
}

func (s *search) rounded() []int64 {
	x := make([]int64, s.n)
	for j, v := range s.xf {
		x[j] = int64(math.Round(v))
	}
	return x
}

// halve splits at the middle of the widest key column, or of any column: used when the
// relaxation gave no usable answer. A node without width is a single point.
func (s *search) halve(nd *node) (*node, []*node) {
	best := -1
	for j := range s.n {
		if w := s.b.hi[j] - s.b.lo[j]; w > 0 && (best < 0 || w > s.b.hi[best]-s.b.lo[best]) {
			best = j
		}
	}
	if best < 0 {
		x := slices.Clone(s.b.lo)
		s.offer(x)
		s.close(nd, s.cutoff())
		return nil, nil
	}
	mid := s.b.lo[best] + (s.b.hi[best]-s.b.lo[best])/2
	return s.atMost(nd, best, mid), []*node{s.atLeast(nd, best, mid+1)}
}

// The parts of a node name one end only: the other may have been narrowed for this
// phase alone.
func (s *search) atMost(nd *node, col int, hi int64) *node {
	return s.child(nd, col, s.glo.lo[col], hi)
}

func (s *search) atLeast(nd *node, col int, lo int64) *node {
	return s.child(nd, col, lo, s.glo.hi[col])
}

func (s *search) child(nd *node, col int, lo, hi int64) *node {
	s.seq++
	return &node{parent: nd, by: []change{{int32(col), lo, hi}}, bound: nd.bound, depth: nd.depth + 1, seq: s.seq, basis: nd.basis}
}

// around splits a node whose relaxation is the whole point x so that other plans in it
// stay in reach: less, equal, more of the first key column still free.
func (s *search) around(nd *node, x []int64) (*node, []*node) {
	s.remember(nd)
	if !s.narrow(nd) {
		return nil, nil
	}
	free := func(j int) bool { return s.b.lo[j] < s.b.hi[j] }
	columns := s.key
	if !slices.ContainsFunc(s.key, free) {
		// Every key column is decided: only a cheaper way to the same key is left.
		if s.p.Cost(x) <= nd.bound {
			s.close(nd, s.cutoff())
			return nil, nil
		}
		columns = make([]int, s.n)
		for j := range columns {
			columns[j] = j
		}
	}
	var parts []*node
	var same []change
	part := func(by change) {
		child := s.child(nd, int(by.col), by.lo, by.hi)
		child.by = append(child.by, same...)
		parts = append(parts, child)
	}
	for _, j := range columns {
		lo, hi, c := s.b.lo[j], s.b.hi[j], int32(j)
		if lo == hi {
			continue
		}
		if x[j] > lo {
			part(change{c, s.glo.lo[j], x[j] - 1})
		}
		if x[j] < hi {
			part(change{c, x[j] + 1, s.glo.hi[j]})
		}
		same = append(same, change{c, x[j], x[j]})
	}
	if len(same) == 0 {
		s.close(nd, s.cutoff())
		return nil, nil
	}
	rest := s.child(nd, int(same[0].col), same[0].lo, same[0].hi)
	rest.by = same
	nd.basis = nil
	return nil, append(parts, rest)
}
