package integer

import (
	"cmp"
	"math"
	"slices"
)

// A cut is a row that every whole solution keeps and the present relaxation breaks.
type cut struct {
	sparse
	depth float64 // how far the relaxation is outside, in the Euclidean norm
}

const (
	mostDenominator = 2000
	coarse          = 720 // the denominator when no exact one is small: still valid, less deep
	mostCutCoef     = 1 << 20
	leastDepth      = 2e-3
)

// denominator finds a small q that makes every entry of y whole, or 0.
func denominator(y []float64) int64 {
	q := int64(1)
	for _, v := range y {
		if v == 0 {
			continue
		}
		w := v * float64(q)
		if math.Abs(w-math.Round(w)) < 1e-6 {
			continue
		}
		k := int64(0)
		for try := int64(2); try <= 64; try++ {
			if u := w * float64(try); math.Abs(u-math.Round(u)) < 1e-6 {
				k = try
				break
			}
		}
		if k == 0 {
			return 0
		}
		if q *= k; q > mostDenominator {
			return 0
		}
	}
	return q
}

// gomory turns a combination of rows into a cut by mixed-integer rounding, in whole
// numbers throughout: the multipliers are whole, so the combination
// Σ a·x − Σ m·row = 0 holds for every solution; counted from the ends where the
// relaxation stands, divided by q and rounded it stays a consequence for whole x.
func (s *search) gomory(y []float64) (cut, bool) {
	q := denominator(y)
	if q == 0 {
		q = coarse
	}
	a := s.dense
	clear(a)
	l := &s.l
	type slack struct {
		i int
		m int64
	}
	var used []slack
	for i, v := range y {
		if v == 0 {
			continue
		}
		m := int64(math.Round(v * float64(q)))
		if m == 0 {
			continue
		}
		r := &s.rows[i]
		for t, j := range r.col {
			a[j] += m * r.val[t]
		}
		used = append(used, slack{i, -m})
	}
	var beta wide // −Σ coefficient · end
	put := func(c, end int64) { beta = beta.add(times(-c, end)) }
	upper := func(col int) bool {
		if l.state[col] == basic {
			return false
		}
		return l.state[col] == atHi
	}
	for j, c := range a {
		if c == 0 {
			continue
		}
		if upper(j) {
			put(c, s.glo.hi[j])
		} else {
			put(c, s.glo.lo[j])
		}
	}
	for _, u := range used {
		if upper(l.n + u.i) {
			put(u.m, s.rows[u.i].hi)
		} else {
			put(u.m, s.rows[u.i].lo)
		}
	}
	b, ok := beta.small()
	if !ok {
		return cut{}, false
	}
	whole := floorDiv(b, q)
	r0 := b - whole*q
	if r0 == 0 || float64(r0) < 0.005*float64(q) || float64(q-r0) < 0.005*float64(q) {
		return cut{}, false
	}
	g := func(c int64) int64 {
		w := floorDiv(c, q)
		return w*(q-r0) + max(0, c-w*q-r0)
	}
	// Σ g(coefficient)·(distance from the end) ≤ whole·(q−r0), back in plain columns.
	rhs := whole * (q - r0)
	out := s.dense2
	clear(out)
	for j, c := range a {
		if c == 0 {
			continue
		}
		if upper(j) {
			k := g(-c)
			out[j] -= k
			rhs -= k * s.glo.hi[j]
		} else {
			k := g(c)
			out[j] += k
			rhs += k * s.glo.lo[j]
		}
	}
	for _, u := range used {
		r := &s.rows[u.i]
		var k int64
		if upper(l.n + u.i) {
			k = g(-u.m)
			rhs -= k * r.hi
			k = -k
		} else {
			k = g(u.m)
			rhs += k * r.lo
		}
		if k == 0 {
			continue
		}
		if k > mostCutCoef || k < -mostCutCoef {
			return cut{}, false
		}
		for t, j := range r.col {
			out[j] += k * r.val[t]
		}
	}
	return s.finish(out, rhs)
}

// finish makes Σ out·x ≤ rhs small and says whether it is worth having.
func (s *search) finish(out []int64, rhs int64) (cut, bool) {
	var c cut
	var common int64
	for j, v := range out {
		if v == 0 {
			continue
		}
		if s.glo.lo[j] == s.glo.hi[j] {
			rhs -= v * s.glo.lo[j]
			continue
		}
		c.col, c.val = append(c.col, int32(j)), append(c.val, v)
		common = gcd(common, v)
	}
	if common == 0 {
		return cut{}, false
	}
	rhs = floorDiv(rhs, common)
	norm, left := 0.0, 0.0
	var least int64
	for t, j := range c.col {
		c.val[t] /= common
		v := c.val[t]
		if v > mostCutCoef || v < -mostCutCoef {
			return cut{}, false
		}
		norm += float64(v) * float64(v)
		left += float64(v) * s.xf[j]
		if v > 0 {
			least += v * s.glo.lo[j]
		} else {
			least += v * s.glo.hi[j]
		}
	}
	c.lo, c.hi = least, rhs
	c.depth = (left - float64(rhs)) / math.Sqrt(norm)
	if c.depth < leastDepth || len(c.col) > 60+s.n/4 || least > rhs {
		return cut{}, false
	}
	return c, true
}

func gcd(a, b int64) int64 {
	if a < 0 {
		a = -a
	}
	if b < 0 {
		b = -b
	}
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// choose keeps the deepest cuts that point in sufficiently different directions.
func choose(cuts []cut, most, n int) []cut {
	slices.SortStableFunc(cuts, func(a, b cut) int {
		if c := cmp.Compare(b.depth, a.depth); c != 0 {
			return c
		}
		return cmp.Compare(len(a.col), len(b.col))
	})
	var kept []cut
	at := make([]float64, n)
	for _, c := range cuts {
		if len(kept) == most {
			break
		}
		norm := 0.0
		for t, j := range c.col {
			at[j] = float64(c.val[t])
			norm += at[j] * at[j]
		}
		alike := false
		for _, k := range kept {
			dot, kn := 0.0, 0.0
			for t, j := range k.col {
				v := float64(k.val[t])
				dot += v * at[j]
				kn += v * v
			}
			if dot > 0.9*math.Sqrt(norm*kn) {
				alike = true
				break
			}
		}
		for _, j := range c.col {
			at[j] = 0
		}
		if !alike {
			kept = append(kept, c)
		}
	}
	return kept
}
