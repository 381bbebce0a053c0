package cure

import (
	"fmt"
	"math/big"
	"math/bits"
	"strings"
)

// A frac is an exact fraction that is never negative: in 128 bits over 128 bits where that
// holds it, else as a big.Rat. It is never rounded on its way. The zero value is no number.
type frac struct {
	n, d u128
	rat  *big.Rat // where it is set, it alone counts
}

type u128 struct{ hi, lo uint64 }

func fracOf(r *big.Rat) frac { return frac{rat: r} }

// whole is w; what is negative is left to big.Rat.
func whole(w int64) frac {
	if w < 0 {
		return fracOf(big.NewRat(w, 1))
	}
	return frac{n: u128{lo: uint64(w)}, d: u128{lo: 1}}
}

func (u u128) big() *big.Int {
	b := new(big.Int).SetUint64(u.hi)
	return b.Or(b.Lsh(b, 64), new(big.Int).SetUint64(u.lo))
}

func (f frac) exact() *big.Rat {
	if f.rat != nil {
		return f.rat
	}
	return new(big.Rat).SetFrac(f.n.big(), f.d.big())
}

func (u u128) times(m uint64) (u128, bool) {
	hi, lo := bits.Mul64(u.lo, m)
	over, top := bits.Mul64(u.hi, m)
	sum, carry := bits.Add64(hi, top, 0)
	return u128{sum, lo}, over == 0 && carry == 0
}

func (u u128) plus(o u128) (u128, bool) {
	lo, c := bits.Add64(u.lo, o.lo, 0)
	hi, c := bits.Add64(u.hi, o.hi, c)
	return u128{hi, lo}, c == 0
}

func (u u128) less(o u128) bool { return u.hi < o.hi || u.hi == o.hi && u.lo < o.lo }

// times is f·m, over is f ÷ m; m is never negative, and above zero in over.
func (f frac) times(m int64) frac {
	if f.rat == nil && m >= 0 {
		if n, ok := f.n.times(uint64(m)); ok {
			return frac{n: n, d: f.d}
		}
	}
	return fracOf(new(big.Rat).Mul(f.exact(), big.NewRat(m, 1)))
}

func (f frac) over(m int64) frac {
	if f.rat == nil && m > 0 {
		if d, ok := f.d.times(uint64(m)); ok {
			return frac{n: f.n, d: d}
		}
	}
	return fracOf(new(big.Rat).Quo(f.exact(), big.NewRat(m, 1)))
}

func (f frac) plus(o frac) frac {
	if f.rat == nil && o.rat == nil && f.d == o.d {
		if n, ok := f.n.plus(o.n); ok {
			return frac{n: n, d: f.d}
		}
	}
	// Half a scale step has twice the divisor of the weight it is added to.
	if f.rat == nil && o.rat == nil {
		d, ok1 := f.d.times(2)
		n, ok2 := f.n.times(2)
		if ok1 && ok2 && d == o.d {
			if n, ok := n.plus(o.n); ok {
				return frac{n: n, d: d}
			}
		}
	}
	return fracOf(new(big.Rat).Add(f.exact(), o.exact()))
}

// cmp is −1, 0 or 1 as f is under, at or over o.
func (f frac) cmp(o frac) int {
	if f.rat != nil || o.rat != nil {
		return f.exact().Cmp(o.exact())
	}
	a, ok1 := product128(f.n, o.d)
	b, ok2 := product128(o.n, f.d)
	switch {
	case !ok1 || !ok2:
		return f.exact().Cmp(o.exact())
	case a.less(b):
		return -1
	case b.less(a):
		return 1
	}
	return 0
}

func product128(a, b u128) (u128, bool) {
	if a.hi != 0 && b.hi != 0 {
		return u128{}, false
	}
	if a.hi != 0 {
		a, b = b, a
	}
	return b.times(a.lo)
}

// round is the whole number nearest to f, halves up. It panics where that is no int64.
func (f frac) round() int64 {
	if f.rat == nil {
		n2, ok1 := f.n.times(2)
		n2, ok2 := n2.plus(f.d)
		d2, ok3 := f.d.times(2)
		if ok1 && ok2 && ok3 {
			if q, ok := quotient(n2, d2); ok {
				return q
			}
		}
	}
	return round(f.exact())
}

// quotient is n ÷ d rounded down, where one division of 128 by 64 bits comes to it.
func quotient(n, d u128) (int64, bool) {
	if d.hi != 0 {
		// The divisor's highest 64 bits give the quotient, or one more: one less than that
		// is never too much, and one step up mends it.
		s := bits.LeadingZeros64(d.hi)
		top := d.hi<<s | d.lo>>(64-s)
		q, _ := bits.Div64(n.hi>>1, n.hi<<63|n.lo>>1, top)
		q >>= 63 - s
		if q > 0 {
			q--
		}
		p, ok := d.times(q)
		if !ok || n.less(p) {
			return 0, false
		}
		if next, ok := p.plus(d); ok && !n.less(next) {
			p, q = next, q+1
		}
		if next, ok := p.plus(d); ok && !n.less(next) || q > 1<<63-1 {
			return 0, false // never reached; big.Rat would say
		}
		return int64(q), true
	}
	if n.hi >= d.lo {
		return 0, false
	}
	q, _ := bits.Div64(n.hi, n.lo, d.lo)
	return int64(q), q <= 1<<63-1
}

// decimal writes f to so many places, halves up, and says whether that is a whole number
// which f is not.
func (f frac) decimal(places int) (text string, hides bool) {
	ten := int64(1)
	for range places {
		ten *= 10
	}
	if f.rat != nil || f.cmp(whole(1<<40)) > 0 {
		text = f.exact().FloatString(places)
		back, _ := new(big.Rat).SetString(text)
		return text, back.IsInt() && back.Cmp(f.exact()) != 0
	}
	v := f.times(ten).round()
	text = tenths(v, ten, places)
	return text, v%ten == 0 && whole(v/ten).cmp(f) != 0
}

func tenths(v, ten int64, places int) string {
	if places == 0 {
		return fmt.Sprint(v)
	}
	rest := fmt.Sprint(v % ten)
	return fmt.Sprint(v/ten) + "." + strings.Repeat("0", places-len(rest)) + rest
}
