package integer

import (
	"math"
	"slices"
)

const (
	reliable  = 2
	mostTrial = 24
)

// pick chooses the column to branch on: the one whose two sides raise the bound most,
// by experience where there is enough of it and by trial where not.
func (s *search) pick(nd *node) (col int, shutDown, shutUp bool) {
	type choice struct {
		j           int
		score       float64
		down, up    float64
		trustworthy bool
	}
	avg := func(p []pseudo) float64 {
		sum, n := 0.0, 0.0
		for _, q := range p {
			if q.n > 0 {
				sum += q.sum / q.n
				n++
			}
		}
		if n == 0 {
			return 1
		}
		return sum / n
	}
	au, ad := avg(s.up), avg(s.down)
	rate := func(d, u float64) float64 { return max(d, 1e-4) * max(u, 1e-4) }
	var list []choice
	for j, v := range s.xf {
		f := v - math.Floor(v)
		if f < wholeTol || f > 1-wholeTol {
			continue
		}
		u, d := au, ad
		if s.up[j].n > 0 {
			u = s.up[j].sum / s.up[j].n
		}
		if s.down[j].n > 0 {
			d = s.down[j].sum / s.down[j].n
		}
		c := choice{j: j, down: d * f, up: u * (1 - f), trustworthy: min(s.up[j].n, s.down[j].n) >= reliable}
		c.score = rate(c.down, c.up)
		list = append(list, c)
	}
	slices.SortStableFunc(list, func(a, b choice) int {
		if a.score != b.score {
			if a.score > b.score {
				return -1
			}
			return 1
		}
		return a.j - b.j
	})
	best := list[0]
	tried, since := 0, 0
	var saved *basisCopy
	here := s.l.value
	xf := slices.Clone(s.xf)
	top := -1.0
	for i := range list {
		c := &list[i]
		if !c.trustworthy && tried < mostTrial && since < 5 {
			if saved == nil {
				saved = s.keepBasis()
			}
			tried++
			floor := int64(math.Floor(xf[c.j]))
			f := xf[c.j] - float64(floor)
			lo, hi := s.b.lo[c.j], s.b.hi[c.j]
			dn, sd := s.trial(saved, c.j, lo, floor, here)
			un, su := s.trial(saved, c.j, floor+1, hi, here)
			if sd || su {
				s.reload(saved)
				copy(s.xf, xf)
				return c.j, sd, su
			}
			s.note(c.j, false, f, dn)
			s.note(c.j, true, f, un)
			c.down, c.up = dn, un
			c.score = rate(dn, un)
		}
		if c.score > top {
			top, best, since = c.score, *c, 0
		} else {
			since++
		}
	}
	if saved != nil {
		s.reload(saved)
		copy(s.xf, xf)
	}
	return best.j, false, false
}

// trial looks at one side of a split for a few pivots.
func (s *search) trial(saved *basisCopy, col int, lo, hi int64, here float64) (rise float64, shut bool) {
	s.restore(saved)
	blo, bhi := slices.Clone(s.b.lo), slices.Clone(s.b.hi)
	defer func() {
		copy(s.b.lo, blo)
		copy(s.b.hi, bhi)
	}()
	if !s.press(change{int32(col), lo, hi}) || !s.b.settle() {
		return 0, true
	}
	_, out, shut := s.relax(25)
	if shut {
		return 0, true
	}
	if out == stuck && s.l.value < here {
		return 0, false
	}
	return max(0, s.l.value-here), false
}

func (s *search) reload(saved *basisCopy) {
	s.restore(saved)
	s.load()
}
