package integer

import "math"

const mostNear = 3000 // pivots spent on one look nearby

// nearby looks for plans whose key columns are the relaxation's values rounded down or
// up, then for plans that differ from the best known only where the relaxation does.
func (s *search) nearby(most int64) {
	near := s.glo.clone()
	for _, j := range s.key {
		v := s.xf[j]
		near.lo[j] = max(near.lo[j], int64(math.Floor(v+wholeTol)))
		near.hi[j] = min(near.hi[j], int64(math.Ceil(v-wholeTol)))
	}
	s.lookIn(near, most)
	s.between(most)
}

// between looks for plans whose key columns are those of the best plan wherever the
// relaxation agrees with it.
func (s *search) between(most int64) {
	if len(s.plans) == 0 {
		return
	}
	near := s.glo.clone()
	for _, j := range s.key {
		v := s.xf[j]
		if x := s.plans[0].X[j]; math.Abs(v-float64(x)) < wholeTol {
			near.lo[j], near.hi[j] = x, x
		}
	}
	s.lookIn(near, most)
}

// lookIn searches a part of the program for plans better than the cutoff.
func (s *search) lookIn(part ends, most int64) {
	if s.opt.Work > 0 {
		most = min(most, s.left())
	}
	if most <= 0 {
		return
	}
	q := Program{Cols: make([]Col, s.n), Rows: s.p.Rows[:len(s.p.Rows):len(s.p.Rows)]}
	copy(q.Cols, s.p.Cols)
	for j := range q.Cols {
		q.Cols[j].Lo, q.Cols[j].Hi = part.lo[j], part.hi[j]
	}
	for _, r := range s.rows[s.real:] {
		row := Row{Lo: r.lo, Hi: r.hi, Implied: true}
		for t, j := range r.col {
			row.Terms = append(row.Terms, Term{int(j), r.val[t]})
		}
		q.Rows = append(q.Rows, row)
	}
	sub := &search{p: &q, n: s.n, key: s.key, ceiling: s.cutoff(), within: true, opt: Options{Limit: Limit{Work: most, Stop: s.opt.Stop}}}
	a := sub.solve()
	s.aside += a.Work
	for _, f := range a.Found {
		s.offer(f.X)
	}
}
