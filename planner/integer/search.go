package integer

import (
	"container/heap"
	"math"
	"slices"
)

// search is one run of Solve.
type search struct {
	p    *Program
	opt  Options
	n    int
	rows []sparse // of the relaxation: real ones first, then implied ones and cuts in use
	real int
	pool []sparse // implied rows not in use
	unit int64    // every cost is a multiple of it

	glo ends // bounds every solution keeps
	fix ends // narrower ones, for solutions cheaper than the cutoff
	b   *box
	pr  prover
	l   relaxation
	xf  []float64
	y   []float64

	dense, dense2 []int64

	key    []int
	plans  []Found // cheapest first, distinct in key
	want   int     // the plan now being proven, from 0
	open   nodeHeap
	closed []*node // set aside because no better than the cutoff
	phase  int
	seq    int64
	nodes  int64

	up, down []pseudo

	ceiling int64 // only plans below it matter
	top     *basisCopy
	within  bool  // this search looks for plans inside another's
	aside   int64 // pivots of searches inside this one
}

type ends struct{ lo, hi []int64 }

func (e ends) clone() ends { return ends{slices.Clone(e.lo), slices.Clone(e.hi)} }

type pseudo struct {
	sum float64
	n   float64
}

type change struct {
	col    int32
	lo, hi int64
}

// node is a part of the program: its parent's with some bounds narrowed.
type node struct {
	parent *node
	by     []change
	bound  int64
	depth  int
	seq    int64
	basis  *basisCopy
	fixed  []change // narrowed against the cutoff of one phase
	phase  int
	lesson *lesson
}

// lesson is what a node will teach about branching on a column once it is solved.
type lesson struct {
	col   int
	up    bool
	frac  float64
	value float64 // of the relaxation before
}

type nodeHeap []*node

func (h nodeHeap) Len() int { return len(h) }
func (h nodeHeap) Less(i, j int) bool {
	if h[i].bound != h[j].bound {
		return h[i].bound < h[j].bound
	}
	if h[i].depth != h[j].depth {
		return h[i].depth > h[j].depth
	}
	return h[i].seq < h[j].seq
}
func (h nodeHeap) Swap(i, j int) { h[i], h[j] = h[j], h[i] }
func (h *nodeHeap) Push(x any)   { *h = append(*h, x.(*node)) }
func (h *nodeHeap) Pop() any {
	old := *h
	x := old[len(old)-1]
	*h = old[:len(old)-1]
	return x
}

const never = math.MaxInt64 / 4

// Solve minimises p. The error is for numbers too large to be sure of.
func Solve(p *Program, opt Options) (Answer, error) {
	if err := p.valid(); err != nil {
		return Answer{}, err
	}
	s := &search{p: p, opt: opt, n: len(p.Cols), key: opt.Key, ceiling: never}
	return s.solve(), nil
}

func (s *search) solve() Answer {
	s.opt.Plans = max(1, s.opt.Plans)
	if len(s.key) == 0 {
		for j := range s.p.Cols {
			s.key = append(s.key, j)
		}
	}
	feasible := s.prepare()
	for _, x := range s.opt.Start {
		s.offer(x)
	}
	if !feasible {
		return s.answer(true)
	}
	root := &node{}
	for j, c := range s.p.Cols {
		root.bound += min(c.Cost*s.glo.lo[j], c.Cost*s.glo.hi[j])
	}
	if s.atTop(root) {
		heap.Push(&s.open, root)
	}
	done := true
	for s.want = 0; s.want < s.opt.Plans; s.want++ {
		if !s.prove() {
			done = false
			break
		}
		if s.want >= len(s.plans) {
			break // there is no further plan
		}
		s.nextPhase()
	}
	return s.answer(done)
}

func (s *search) answer(done bool) Answer {
	a := Answer{Found: s.plans, Work: s.spent(), Nodes: s.nodes}
	if len(a.Found) > s.opt.Plans {
		a.Found = a.Found[:s.opt.Plans]
	}
	low := int64(never)
	if !done {
		for _, nd := range s.open {
			low = min(low, nd.bound)
		}
	}
	for i := range a.Found {
		f := &a.Found[i]
		if i < s.want || done {
			f.Bound, f.Proven = f.Cost, true
		} else {
			f.Bound = min(low, a.Found[s.want].Cost)
			f.Proven = i == s.want && f.Bound == f.Cost
		}
	}
	switch {
	case len(a.Found) > 0:
		a.Bound = a.Found[0].Bound
		a.Status = Limited
		if a.Found[0].Proven {
			a.Status = Proven
		}
	case done:
		a.Status = Infeasible
	default:
		a.Status, a.Bound = Limited, low
	}
	return a
}

// prepare copies the program, narrows its bounds, and sets up the relaxation. False
// when the rows contradict each other already.
func (s *search) prepare() bool {
	s.glo = ends{make([]int64, s.n), make([]int64, s.n)}
	for j, c := range s.p.Cols {
		s.glo.lo[j], s.glo.hi[j] = c.Lo, c.Hi
		s.unit = gcd(s.unit, c.Cost)
		if c.Lo > c.Hi {
			return false
		}
	}
	s.unit = max(s.unit, 1)
	var all []sparse
	for _, r := range s.p.Rows {
		q := sparse{lo: r.Lo, hi: r.Hi, implied: r.Implied}
		at := map[int]int{}
		for _, t := range r.Terms {
			if k, ok := at[t.Col]; ok {
				q.val[k] += t.Coef
				continue
			}
			at[t.Col] = len(q.col)
			q.col, q.val = append(q.col, int32(t.Col)), append(q.val, t.Coef)
		}
		for t := len(q.col) - 1; t >= 0; t-- {
			if q.val[t] == 0 {
				q.col, q.val = slices.Delete(q.col, t, t+1), slices.Delete(q.val, t, t+1)
			}
		}
		all = append(all, q)
	}
	s.b = newBox(all, s.n)
	copy(s.b.lo, s.glo.lo)
	copy(s.b.hi, s.glo.hi)
	for i := range all {
		s.b.queued[i] = true
		s.b.queue = append(s.b.queue, int32(i))
	}
	if !s.b.settle() {
		return false
	}
	copy(s.glo.lo, s.b.lo)
	copy(s.glo.hi, s.b.hi)
	for _, q := range all {
		if !s.shorten(&q) {
			continue
		}
		if q.implied {
			s.pool = append(s.pool, q)
		} else {
			s.rows = append(s.rows, q)
		}
	}
	s.real = len(s.rows)
	s.fix = s.glo.clone()
	s.b.setRows(s.rows, s.n)

	l := &s.l
	l.n = s.n
	l.base, l.cost = make([]float64, s.n), make([]float64, s.n)
	l.lo, l.hi, l.state = make([]float64, s.n), make([]float64, s.n), make([]int8, s.n)
	for j, c := range s.p.Cols {
		// Ties are broken by a little that all columns together cannot turn into a cost.
		l.base[j] = float64(c.Cost) + 1e-3*disturb(j)*(1+1e-3*math.Abs(float64(c.Cost)))
		if l.base[j] < 0 {
			l.state[j] = atHi
		}
	}
	s.pr = prover{cost: make([]int64, s.n), d: make([]int64, s.n)}
	for j, c := range s.p.Cols {
		s.pr.cost[j] = c.Cost
	}
	s.xf = make([]float64, s.n)
	s.dense, s.dense2 = make([]int64, s.n), make([]int64, s.n)
	s.up, s.down = make([]pseudo, s.n), make([]pseudo, s.n)
	s.useRows()
	return true
}

// shorten takes the columns that are decided out of a row and says whether anything
// is left for it to forbid.
func (s *search) shorten(r *sparse) bool {
	var col []int32
	var val []int64
	var least, most int64
	for t, j := range r.col {
		lo, hi, v := s.glo.lo[j], s.glo.hi[j], r.val[t]
		if lo == hi {
			r.lo, r.hi = max(r.lo-v*lo, -2*Open), min(r.hi-v*lo, 2*Open)
			continue
		}
		least, most = least+min(v*lo, v*hi), most+max(v*lo, v*hi)
		col, val = append(col, j), append(val, v)
	}
	r.col, r.val = col, val
	says := least < r.lo || most > r.hi
	r.lo, r.hi = max(r.lo, least), min(r.hi, most)
	return says
}

// useRows hands the present rows to everything that works with them.
func (s *search) useRows() {
	s.l.setRows(s.rows)
	s.pr.rows, s.pr.y = s.rows, make([]int64, len(s.rows))
	s.b.setRows(s.rows, s.n)
	s.y = make([]float64, len(s.rows))
}

// cutoff is the cost a plan must stay below to matter now.
func (s *search) cutoff() int64 {
	if s.want < len(s.plans) {
		return s.plans[s.want].Cost
	}
	return s.ceiling
}

// good rounds a bound up to the next possible cost.
func (s *search) good(bound int64) int64 { return -floorDiv(-bound, s.unit) * s.unit }

// offer takes x as a plan if it is one, and says whether it was new or cheaper.
func (s *search) offer(x []int64) bool {
	if !s.p.Holds(x) {
		return false
	}
	f := Found{X: slices.Clone(x), Cost: s.p.Cost(x)}
	for i, g := range s.plans {
		if s.sameKey(g.X, x) {
			if g.Cost <= f.Cost {
				return false
			}
			s.plans = slices.Delete(s.plans, i, i+1)
			break
		}
	}
	at, _ := slices.BinarySearchFunc(s.plans, f, func(a, b Found) int {
		if a.Cost <= b.Cost {
			return -1
		}
		return 1
	})
	s.plans = slices.Insert(s.plans, at, f)
	if len(s.plans) > s.opt.Plans+20 {
		s.plans = s.plans[:s.opt.Plans+20]
	}
	return true
}

func (s *search) sameKey(a, b []int64) bool {
	for _, j := range s.key {
		if a[j] != b[j] {
			return false
		}
	}
	return true
}

// spent counts pivots, and nodes too, since some cost none.
func (s *search) spent() int64 { return s.l.pivots + s.aside + s.nodes }

func (s *search) stopped() bool {
	if s.opt.Work > 0 && s.spent() >= s.opt.Work {
		return true
	}
	return s.opt.Stop != nil && s.opt.Stop()
}

// nextPhase reopens what was set aside for the plan just proven.
func (s *search) nextPhase() {
	s.phase++
	s.fix = s.glo.clone()
	for _, nd := range s.closed {
		heap.Push(&s.open, nd)
	}
	s.closed = nil
}

func (s *search) close(nd *node, bound int64) {
	if s.opt.Plans > 1 {
		nd.bound = max(nd.bound, bound)
		s.closed = append(s.closed, nd)
	}
}

// prove works until no open node can hold a plan below the cutoff.
func (s *search) prove() bool {
	for len(s.open) > 0 {
		if s.stopped() {
			return false
		}
		if s.opt.Gap > 0 && s.want < len(s.plans) {
			if c := s.plans[s.want].Cost; float64(c-s.open[0].bound)*1e6 <= float64(s.opt.Gap)*math.Abs(float64(c)) {
				return s.open[0].bound >= c
			}
		}
		nd := heap.Pop(&s.open).(*node)
		if nd.bound >= s.cutoff() {
			s.close(nd, nd.bound)
			continue
		}
		fresh := false
		for nd != nil {
			next, rest := s.expand(nd, fresh)
			for _, r := range rest {
				heap.Push(&s.open, r)
			}
			nd, fresh = next, true
			if nd != nil && s.stopped() {
				heap.Push(&s.open, nd)
				return false
			}
		}
	}
	return true
}
