package integer

import (
	"math"
	"math/bits"
)

// sparse is a row in whole numbers.
type sparse struct {
	col    []int32
	val    []int64
	lo, hi int64
	// implied rows wait in a pool until the relaxation breaks them
	implied bool
}

// wide is a 128-bit whole number, enough for every sum here.
type wide struct {
	hi int64
	lo uint64
}

func times(a, b int64) wide {
	neg := (a < 0) != (b < 0)
	h, l := bits.Mul64(magnitude(a), magnitude(b))
	if neg {
		var c uint64
		l, c = bits.Sub64(0, l, 0)
		h, _ = bits.Sub64(0, h, c)
	}
	return wide{int64(h), l}
}

func magnitude(a int64) uint64 {
	if a < 0 {
		return uint64(-a)
	}
	return uint64(a)
}

func (a wide) add(b wide) wide {
	l, c := bits.Add64(a.lo, b.lo, 0)
	h, _ := bits.Add64(uint64(a.hi), uint64(b.hi), c)
	return wide{int64(h), l}
}

func (a wide) positive() bool { return a.hi > 0 || a.hi == 0 && a.lo > 0 }
func (a wide) negative() bool { return a.hi < 0 }

// small returns a as an int64, if it is well within that.
func (a wide) small() (int64, bool) {
	v := int64(a.lo)
	return v, (a.hi == 0 && v >= 0 || a.hi == -1 && v < 0) && v < 1<<50 && v > -(1<<50)
}

// ceil returns ⌈a ÷ 2^scale⌉, kept within int64.
func (a wide) ceil(scale uint) int64 {
	a = a.add(wide{0, 1<<scale - 1})
	if a.hi > 1<<(scale-2) {
		return math.MaxInt64 / 4
	}
	if a.hi < -(1 << (scale - 2)) {
		return math.MinInt64 / 4
	}
	return int64(uint64(a.hi)<<(64-scale) | a.lo>>scale)
}

// Multipliers are rounded to whole multiples of 2^-scale. Any rounding keeps a bound
// valid; this one costs it far less than a cent.
const (
	scale    = 20
	mostMult = 1 << 22 // beyond it a multiplier is clamped: still valid, only weak
)

// prover reckons bounds and contradictions in whole numbers.
type prover struct {
	cost []int64
	rows []sparse
	y    []int64
	d    []int64 // reduced costs, in units of 2^-scale
}

// multiply rounds y and reckons the reduced costs cost − yA with it. False if the
// numbers are too large to be sure of.
func (p *prover) multiply(y []float64, costs bool) bool {
	for j := range p.d {
		p.d[j] = 0
		if costs {
			p.d[j] = p.cost[j] << scale
		}
	}
	for i := range p.rows {
		v := y[i]
		if !(v > -mostMult && v < mostMult) {
			return false
		}
		k := int64(math.Round(v * (1 << scale)))
		p.y[i] = k
		if k == 0 {
			continue
		}
		r := &p.rows[i]
		for t, j := range r.col {
			p.d[j] -= k * r.val[t]
		}
	}
	for _, v := range p.d {
		if v > 1<<60 || v < -(1<<60) {
			return false
		}
	}
	return true
}

// least is the smallest value of Σ d·x + Σ y·row over the bounds, in 2^-scale.
func (p *prover) least(lo, hi []int64) wide {
	var sum wide
	for j, d := range p.d {
		switch {
		case d > 0:
			sum = sum.add(times(d, lo[j]))
		case d < 0:
			sum = sum.add(times(d, hi[j]))
		}
	}
	for i, y := range p.y {
		switch {
		case y > 0:
			sum = sum.add(times(y, p.rows[i].lo))
		case y < 0:
			sum = sum.add(times(y, p.rows[i].hi))
		}
	}
	return sum
}

// bound is a cost below which nothing within lo, hi lies: cost·x =
// (cost − yA)·x + y·(Ax) whatever y is.
func (p *prover) bound(y []float64, lo, hi []int64) (int64, bool) {
	if !p.multiply(y, true) {
		return 0, false
	}
	return p.least(lo, hi).ceil(scale), true
}

// contradicts says whether the combination y of the rows has no solution within lo, hi:
// 0 = −yA·x + y·(Ax) must be within reach.
func (p *prover) contradicts(y []float64, lo, hi []int64) bool {
	big := 0.0
	for _, v := range y {
		big = max(big, math.Abs(v))
	}
	if big == 0 {
		return false
	}
	z := make([]float64, len(y))
	for _, sign := range []float64{1, -1} {
		for i, v := range y {
			z[i] = sign * v / big * 1024
			if math.Abs(z[i]) < 1e-7 {
				z[i] = 0
			}
		}
		if p.multiply(z, false) && p.least(lo, hi).positive() {
			return true
		}
	}
	return false
}

// box narrows bounds by what the rows imply.
type box struct {
	lo, hi []int64
	rows   []sparse
	of     [][]int32 // rows of each column
	queued []bool
	queue  []int32
	trail  []int32 // columns narrowed by the last call
}

func newBox(rows []sparse, n int) *box {
	b := &box{lo: make([]int64, n), hi: make([]int64, n)}
	b.setRows(rows, n)
	return b
}

func (b *box) setRows(rows []sparse, n int) {
	b.rows, b.of, b.queued = rows, make([][]int32, n), make([]bool, len(rows))
	for i, r := range rows {
		for _, j := range r.col {
			b.of[j] = append(b.of[j], int32(i))
		}
	}
}

func (b *box) wake(j int32) {
	for _, i := range b.of[j] {
		if !b.queued[i] {
			b.queued[i] = true
			b.queue = append(b.queue, i)
		}
	}
}

// settle works until nothing narrows any more; false when the rows contradict the bounds.
func (b *box) settle() bool {
	ok := true
	for turns := 0; len(b.queue) > 0; turns++ {
		i := b.queue[0]
		b.queue = b.queue[1:]
		b.queued[i] = false
		if ok && turns < 20*len(b.rows)+1000 {
			ok = b.narrow(&b.rows[i])
		}
	}
	b.queue = nil
	return ok
}

func (b *box) narrow(r *sparse) bool {
	var least, most int64
	for t, j := range r.col {
		if v := r.val[t]; v > 0 {
			least += v * b.lo[j]
			most += v * b.hi[j]
		} else {
			least += v * b.hi[j]
			most += v * b.lo[j]
		}
	}
	if least > r.hi || most < r.lo {
		return false
	}
	if most <= r.hi && least >= r.lo {
		return true
	}
	for t, j := range r.col {
		v := r.val[t]
		lo, hi := b.lo[j], b.hi[j]
		if lo == hi {
			continue
		}
		nlo, nhi := lo, hi
		// v·x ≤ r.hi − (least − own least);  v·x ≥ r.lo − (most − own most)
		if v > 0 {
			nhi = min(hi, floorDiv(r.hi-least+v*lo, v))
			nlo = max(lo, -floorDiv(-(r.lo-most+v*hi), v))
		} else {
			nlo = max(lo, -floorDiv(r.hi-least+v*hi, -v))
			nhi = min(hi, floorDiv(-(r.lo-most+v*lo), -v))
		}
		if nlo > nhi {
			return false
		}
		if nlo > lo || nhi < hi {
			b.lo[j], b.hi[j] = nlo, nhi
			b.trail = append(b.trail, j)
			b.wake(j)
			if v > 0 {
				least += v * (nlo - lo)
				most -= v * (hi - nhi)
			} else {
				least -= v * (hi - nhi)
				most += v * (nlo - lo)
			}
		}
	}
	return true
}

// floorDiv returns ⌊a ÷ b⌋ for b > 0.
func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}
