package integer

import "math"

// Places of a column in a simplex solution.
const (
	atLo int8 = iota
	atHi
	basic
)

// relaxation is a program without the demand for whole numbers. Column n+i is the
// activity of row i. Every column is bounded, so any basis can be made dual feasible
// by putting its other columns at the right ends: there is no first phase.
type relaxation struct {
	n, m   int
	cp, ci []int32 // by column
	cv     []float64
	rp, rj []int32 // by row
	rv     []float64

	base   []float64 // costs, a little disturbed so that ties are rare
	cost   []float64 // the same, shifted where a step needed it
	lo, hi []float64
	state  []int8
	head   []int32   // column at each position of the basis
	x      []float64 // value of each position
	d      []float64 // reduced costs of all columns
	weight []float64 // dual steepest edge
	f      factor

	rho, col, tau, row []float64 // scratch
	wx, wc             []float64
	touched            []int32
	seen               []bool
	cand               []candidate
	ray                []float64 // multipliers of the last contradiction
	pivots             int64
	value              float64
}

type candidate struct {
	j     int32
	alpha float64
}

type outcome int

const (
	optimal outcome = iota
	contradiction
	beyond // above the cutoff
	stuck  // out of pivots, or numbers went bad
)

const (
	tolPrimal = 1e-7
	tolDual   = 1e-7
	tolPivot  = 1e-7
	refactor  = 80
	// Weights only rank rows; beyond this size they would hide one.
	mostWeight = 1e12
)

// disturb is a small number that depends on j only.
func disturb(j int) float64 {
	h := uint64(j+1) * 0x9E3779B97F4A7C15
	h ^= h >> 29
	h *= 0xBF58476D1CE4E5B9
	h ^= h >> 32
	return 0.5 + float64(h%1024)/2048
}

// setRows gives the relaxation its rows; columns 0…n−1 must have been set.
func (l *relaxation) setRows(rows []sparse) {
	l.m = len(rows)
	count := make([]int32, l.n+1)
	l.rp, l.rj, l.rv = append(l.rp[:0], 0), l.rj[:0], l.rv[:0]
	for _, r := range rows {
		for k, j := range r.col {
			l.rj, l.rv = append(l.rj, j), append(l.rv, float64(r.val[k]))
			count[j+1]++
		}
		l.rp = append(l.rp, int32(len(l.rj)))
	}
	for j := range l.n {
		count[j+1] += count[j]
	}
	l.cp = count
	l.ci, l.cv = make([]int32, len(l.rj)), make([]float64, len(l.rj))
	at := append([]int32(nil), count[:l.n]...)
	for i := range l.m {
		for k := l.rp[i]; k < l.rp[i+1]; k++ {
			j := l.rj[k]
			l.ci[at[j]], l.cv[at[j]] = int32(i), l.rv[k]
			at[j]++
		}
	}
	all := l.n + l.m
	grow := func(v []float64) []float64 {
		w := make([]float64, all)
		copy(w, v)
		return w
	}
	l.base, l.cost, l.lo, l.hi, l.d = grow(l.base), grow(l.cost), grow(l.lo), grow(l.hi), grow(l.d)
	for i, r := range rows {
		l.lo[l.n+i], l.hi[l.n+i] = float64(r.lo), float64(r.hi)
	}
	state := make([]int8, all)
	copy(state, l.state)
	for i := len(l.head); i < l.m; i++ {
		state[l.n+i] = basic
		l.head = append(l.head, int32(l.n+i))
		l.weight = append(l.weight, 1)
	}
	l.state = state
	l.x = make([]float64, l.m)
	l.rho, l.col, l.tau = make([]float64, l.m), make([]float64, l.m), make([]float64, l.m)
	l.row, l.seen, l.touched = make([]float64, all), make([]bool, all), nil
	l.wx, l.wc = make([]float64, l.m), make([]float64, l.m)
	l.ray = make([]float64, l.m)
}

// refresh factorises the basis and reckons everything anew from it.
func (l *relaxation) refresh() {
	for try := 0; ; try++ {
		badPos, badRow := l.f.factorise(l.m, l.n, l.head, l.cp, l.ci, l.cv)
		if len(badPos) == 0 {
			break
		}
		if try > 3 { // start over from the rows themselves
			for j := range l.state {
				if l.state[j] == basic {
					l.state[j] = atLo
				}
			}
			for i := range l.m {
				l.head[i], l.weight[i] = int32(l.n+i), 1
				l.state[l.n+i] = basic
			}
			continue
		}
		for k, p := range badPos {
			l.state[l.head[p]] = atLo
			j := int32(l.n) + badRow[k]
			l.head[p], l.weight[p] = j, 1
			l.state[j] = basic
		}
	}
	l.duals()
	l.primals()
}

func (l *relaxation) duals() {
	for p, j := range l.head {
		l.wc[p] = l.cost[j]
	}
	y := l.rho
	l.f.btran(l.wc, y)
	for j := range l.n {
		if l.state[j] == basic {
			l.d[j] = 0
			continue
		}
		v := l.cost[j]
		for k := l.cp[j]; k < l.cp[j+1]; k++ {
			v -= l.cv[k] * y[l.ci[k]]
		}
		l.settle(j, v)
	}
	for i := range l.m {
		j := l.n + i
		if l.state[j] == basic {
			l.d[j] = 0
			continue
		}
		l.settle(j, l.cost[j]+y[i])
	}
}

// settle puts a column that is not in the basis at the end its reduced cost asks for.
func (l *relaxation) settle(j int, d float64) {
	l.d[j] = d
	switch {
	case d > tolDual:
		l.state[j] = atLo
	case d < -tolDual:
		l.state[j] = atHi
	}
}

func (l *relaxation) at(j int32) float64 {
	if l.state[j] == atHi {
		return l.hi[j]
	}
	return l.lo[j]
}

func (l *relaxation) primals() {
	clear(l.wx)
	for j := range l.n {
		if l.state[j] == basic {
			continue
		}
		if v := l.at(int32(j)); v != 0 {
			for k := l.cp[j]; k < l.cp[j+1]; k++ {
				l.wx[l.ci[k]] -= l.cv[k] * v
			}
		}
	}
	for i := range l.m {
		if j := int32(l.n + i); l.state[j] != basic {
			l.wx[i] += l.at(j)
		}
	}
	l.f.ftran(l.wx, l.x)
	l.value = l.objective()
}

func (l *relaxation) objective() float64 {
	sum := 0.0
	for j := range l.state {
		if l.state[j] != basic && l.cost[j] != 0 {
			sum += l.cost[j] * l.at(int32(j))
		}
	}
	for p, j := range l.head {
		sum += l.cost[j] * l.x[p]
	}
	return sum
}

// solve runs the dual simplex method from the present basis after bounds changed.
func (l *relaxation) solve(cutoff float64, most int64) outcome {
	copy(l.cost, l.base)
	l.refresh()
	return l.run(cutoff, most)
}

func (l *relaxation) run(cutoff float64, most int64) outcome {
	troubles := 0
	for start := l.pivots; ; {
		if l.pivots-start >= most {
			return stuck
		}
		if len(l.f.er) >= refactor || len(l.f.ei) > 6*l.m+4000 {
			l.refresh()
		}
		r, below := l.leaving()
		if r < 0 {
			if len(l.f.er) > 0 {
				l.refresh()
				if r, below = l.leaving(); r < 0 {
					return optimal
				}
			} else {
				return optimal
			}
		}
		if l.value > cutoff {
			return beyond
		}
		clear(l.wc)
		l.wc[r] = 1
		l.f.btran(l.wc, l.rho)
		l.pivotRow()
		q := l.entering(r, below)
		if q < 0 {
			if len(l.f.er) > 0 && troubles < 5 {
				troubles++
				l.refresh()
				continue
			}
			copy(l.ray, l.rho)
			return contradiction
		}
		l.column(int32(q))
		want := l.row[q]
		if got := l.col[r]; math.Abs(got-want) > 1e-6*(1+math.Abs(want)) || math.Abs(got) < tolPivot {
			if troubles++; troubles > 20 {
				return stuck
			}
			if len(l.f.er) == 0 { // not a matter of old factors: leave this row for now
				l.weight[r] = min(l.weight[r]*1e6, mostWeight)
			}
			l.refresh()
			continue
		}
		l.step(r, int32(q), below)
		l.pivots++
	}
}

// leaving picks the position farthest outside its bounds in the steepest-edge norm.
func (l *relaxation) leaving() (at int, below bool) {
	at = -1
	best := 0.0
	for p, j := range l.head {
		v := l.x[p]
		gap := l.lo[j] - v
		under := true
		if over := v - l.hi[j]; over > gap {
			gap, under = over, false
		}
		if gap > tolPrimal {
			if s := gap * gap / l.weight[p]; s > best {
				best, at, below = s, p, under
			}
		}
	}
	return at, below
}

// pivotRow reckons rho·column for all columns outside the basis into l.row.
func (l *relaxation) pivotRow() {
	for _, j := range l.touched {
		l.row[j], l.seen[j] = 0, false
	}
	l.touched = l.touched[:0]
	for i, v := range l.rho {
		if v == 0 {
			continue
		}
		for k := l.rp[i]; k < l.rp[i+1]; k++ {
			j := l.rj[k]
			if l.state[j] == basic {
				continue
			}
			if !l.seen[j] {
				l.seen[j] = true
				l.touched = append(l.touched, j)
			}
			l.row[j] += l.rv[k] * v
		}
		if j := int32(l.n + i); l.state[j] != basic {
			l.row[j] = -v
			l.touched = append(l.touched, j)
		}
	}
}

// entering runs the ratio test: columns passed on the way are flipped to their other
// end as long as the leaving one stays outside its bounds.
func (l *relaxation) entering(r int, below bool) int {
	j := l.head[r]
	slope := l.lo[j] - l.x[r]
	sign := 1.0
	if !below {
		slope, sign = l.x[r]-l.hi[j], -1
	}
	c := l.cand[:0]
	for _, j := range l.touched {
		a := sign * l.row[j]
		if l.lo[j] == l.hi[j] {
			continue
		}
		if l.state[j] == atLo && a < -tolPivot || l.state[j] == atHi && a > tolPivot {
			c = append(c, candidate{j, math.Abs(a)})
		}
	}
	l.cand = c
	clear(l.wx)
	flipped := false
	for len(c) > 0 {
		limit := math.Inf(1)
		for _, k := range c {
			limit = min(limit, (math.Abs(l.d[k.j])+tolDual)/k.alpha)
		}
		drop, best := 0.0, -1
		group := 0
		for i := range c {
			if math.Abs(l.d[c[i].j]) <= limit*c[i].alpha*(1+1e-12) {
				c[group], c[i] = c[i], c[group]
				drop += c[group].alpha * (l.hi[c[group].j] - l.lo[c[group].j])
				if best < 0 || c[group].alpha > c[best].alpha {
					best = group
				}
				group++
			}
		}
		if group == 0 {
			break // no number to compare: leave it to the caller's second try
		}
		if slope-drop >= 0 && group < len(c) {
			for _, k := range c[:group] {
				l.flip(k.j)
			}
			flipped = true
			slope -= drop
			c = c[group:]
			continue
		}
		if slope-drop > tolPrimal {
			// Even all of them together cannot bring the row home.
			if flipped {
				l.unflip()
			}
			return -1
		}
		if flipped {
			l.f.ftran(l.wx, l.tau)
			for p, v := range l.tau {
				l.x[p] += v
			}
		}
		return int(c[best].j)
	}
	if flipped {
		l.unflip()
	}
	return -1
}

func (l *relaxation) unflip() {
	l.f.ftran(l.wx, l.tau)
	for p, v := range l.tau {
		l.x[p] += v
	}
}

// flip moves a column to its other end and notes what that does to the rows.
func (l *relaxation) flip(j int32) {
	by := l.hi[j] - l.lo[j]
	if l.state[j] == atHi {
		by = -by
		l.state[j] = atLo
	} else {
		l.state[j] = atHi
	}
	if int(j) >= l.n {
		l.wx[int(j)-l.n] += by
		return
	}
	for k := l.cp[j]; k < l.cp[j+1]; k++ {
		l.wx[l.ci[k]] -= l.cv[k] * by
	}
}

func (l *relaxation) column(q int32) {
	clear(l.wx)
	if int(q) >= l.n {
		l.wx[int(q)-l.n] = -1
	} else {
		for k := l.cp[q]; k < l.cp[q+1]; k++ {
			l.wx[l.ci[k]] = l.cv[k]
		}
	}
	l.f.ftran(l.wx, l.col)
}

// step moves column q into position r.
func (l *relaxation) step(r int, q int32, below bool) {
	p := l.head[r]
	alpha := l.col[r]
	theta := l.d[q] / l.row[q]
	if below && theta > 0 || !below && theta < 0 {
		l.cost[q] -= l.d[q] // its reduced cost had a wrong sign, within tolerance
		theta = 0
	}
	for _, j := range l.touched {
		if j == q {
			continue
		}
		d := l.d[j] - theta*l.row[j]
		if l.state[j] == atLo && d < 0 || l.state[j] == atHi && d > 0 {
			if l.lo[j] != l.hi[j] {
				l.cost[j] -= d
				d = 0
			}
		}
		l.d[j] = d
	}
	l.d[q] = 0
	l.d[p] = -theta

	to := l.lo[p]
	if !below {
		to = l.hi[p]
	}
	t := (l.x[r] - to) / alpha
	entered := l.at(q) + t
	// The value grows by the dual step times what was missing.
	l.value += math.Abs(theta * (l.x[r] - to))
	for i, v := range l.col {
		if v != 0 {
			l.x[i] -= t * v
		}
	}
	l.x[r] = entered

	copy(l.wx, l.rho)
	l.f.ftran(l.wx, l.tau)
	w := l.weight[r]
	for i, v := range l.col {
		if v == 0 || i == r {
			continue
		}
		k := v / alpha
		nw := l.weight[i] - 2*k*l.tau[i] + k*k*w
		l.weight[i] = weigh(max(nw, k*k))
	}
	l.weight[r] = weigh(w / (alpha * alpha))

	l.f.replace(r, l.col)
	l.head[r] = q
	l.state[q] = basic
	l.state[p] = atLo
	if !below {
		l.state[p] = atHi
	}
}

// weigh keeps a steepest-edge weight a positive number of sensible size.
func weigh(w float64) float64 {
	if !(w > 1e-4) {
		return 1e-4
	}
	return min(w, mostWeight)
}

// solution writes the columns' values into x.
func (l *relaxation) solution(x []float64) {
	for j := range l.n {
		if l.state[j] != basic {
			x[j] = l.at(int32(j))
		}
	}
	for p, j := range l.head {
		if int(j) < l.n {
			x[j] = l.x[p]
		}
	}
}

// multipliers returns the row multipliers of the present basis.
func (l *relaxation) multipliers(y []float64) {
	for p, j := range l.head {
		l.wc[p] = l.base[j]
	}
	l.f.btran(l.wc, y)
}
