package integer

import "math"

// atTop solves the first relaxation and sharpens it by cutting planes. False when the
// program has no plan below what is known.
func (s *search) atTop(root *node) bool {
	copy(s.b.lo, s.glo.lo)
	copy(s.b.hi, s.glo.hi)
	bound, out, shut := s.relax(s.left())
	if shut && s.opt.Plans == 1 {
		return false
	}
	root.bound = max(root.bound, min(bound, never))
	rounds, weak := 0, 0
	for out == optimal && !shut && rounds < 40 && weak < 4 && !s.stopped() {
		rounds++
		s.l.solution(s.xf)
		if s.whole() {
			s.offer(s.rounded())
			break
		}
		cuts := s.separate()
		if len(cuts) == 0 {
			break
		}
		before := s.l.value
		s.dropSlack()
		for _, c := range cuts {
			s.rows = append(s.rows, c.sparse)
		}
		s.useRows()
		bound, out, shut = s.relax(s.left())
		root.bound = max(root.bound, min(bound, never))
		if s.l.value-before < 1e-4*(1+abs(before)) {
			weak++
		} else {
			weak = 0
		}
	}
	if out == optimal {
		s.l.solution(s.xf)
		s.dropSlack()
		s.useRows()
		s.top = s.keepBasis()
		if !shut && !s.within {
			s.nearby(mostNear)
		}
	}
	return true
}

// left is how many pivots may still be spent.
func (s *search) left() int64 {
	if s.opt.Work > 0 {
		return max(0, s.opt.Work-s.spent())
	}
	return math.MaxInt64 / 2
}

func abs(v float64) float64 { return max(v, -v) }

// separate finds rows the relaxation breaks: implied ones that wait, and roundings of
// rows of the simplex tableau.
func (s *search) separate() []cut {
	var found []cut
	rest := s.pool[:0]
	for _, r := range s.pool {
		left := 0.0
		for t, j := range r.col {
			left += float64(r.val[t]) * s.xf[j]
		}
		if left > float64(r.hi)+1e-3 || left < float64(r.lo)-1e-3 {
			found = append(found, cut{sparse: r})
		} else {
			rest = append(rest, r)
		}
	}
	s.pool = rest
	var cuts []cut
	l := &s.l
	for p, j := range l.head {
		if int(j) >= s.n {
			continue
		}
		v := l.x[p]
		f := v - float64(int64(v))
		if f < 0.02 || f > 0.98 {
			continue
		}
		clear(l.wc)
		l.wc[p] = 1
		l.f.btran(l.wc, l.rho)
		for i, v := range l.rho {
			if v < 1e-9 && v > -1e-9 {
				l.rho[i] = 0
			}
		}
		if c, ok := s.gomory(l.rho); ok {
			cuts = append(cuts, c)
		}
	}
	most := 100
	return append(found, choose(cuts, most, s.n)...)
}

// dropSlack forgets cuts and implied rows that do not hold the relaxation back.
func (s *search) dropSlack() {
	l := &s.l
	kept := s.rows[:s.real:s.real]
	gone := make([]bool, len(s.rows))
	for i := s.real; i < len(s.rows); i++ {
		if l.state[l.n+i] == basic {
			gone[i] = true
			if s.rows[i].implied {
				s.pool = append(s.pool, s.rows[i])
			}
		} else {
			kept = append(kept, s.rows[i])
		}
	}
	to := make([]int32, len(s.rows))
	at := int32(0)
	for i := range s.rows {
		to[i] = at
		if !gone[i] {
			at++
		}
	}
	var head []int32
	var weight []float64
	state := append([]int8(nil), l.state[:l.n]...)
	for p, j := range l.head {
		if int(j) >= l.n {
			i := int(j) - l.n
			if gone[i] {
				continue
			}
			j = int32(l.n) + to[i]
		}
		head, weight = append(head, j), append(weight, l.weight[p])
	}
	for i := range s.rows {
		if !gone[i] {
			state = append(state, l.state[l.n+i])
		}
	}
	l.head, l.weight, l.state = head, weight, state
	s.rows = kept
}
