package cure

import (
	"math/big"
	"math/rand/v2"
	"testing"
)

// Fractions in 128 bits come to what math/big makes of the same steps, whether they stay
// in them or grow out.
func TestFracAgainstBig(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 7))
	draw := func() int64 { return r.Int64() >> r.IntN(63) }
	grew, stayed := 0, 0
	for range 100_000 {
		a, b := whole(draw()), whole(draw())
		x, y := a.exact(), b.exact()
		for range r.IntN(5) {
			m, k := draw(), draw()+1
			if k <= 0 {
				k = 1
			}
			a, x = a.times(m), new(big.Rat).Mul(x, big.NewRat(m, 1))
			a, x = a.over(k), new(big.Rat).Quo(x, big.NewRat(k, 1))
			if r.IntN(2) == 0 {
				b, y = b.over(k), new(big.Rat).Quo(y, big.NewRat(k, 1))
			}
		}
		if a.rat != nil {
			grew++
		} else {
			stayed++
		}
		if a.exact().Cmp(x) != 0 || b.exact().Cmp(y) != 0 || a.cmp(b) != x.Cmp(y) || b.cmp(a) != y.Cmp(x) {
			t.Fatalf("%v and %v: cmp %d", x, y, a.cmp(b))
		}
		if s := a.plus(b).exact(); s.Cmp(new(big.Rat).Add(x, y)) != 0 {
			t.Fatalf("%v + %v = %v", x, y, s)
		}
		if s := a.plus(a.over(2)).exact(); s.Cmp(new(big.Rat).Mul(x, big.NewRat(3, 2))) != 0 {
			t.Fatalf("%v and a half = %v", x, s)
		}
		if s := a.plus(a).exact(); s.Cmp(new(big.Rat).Add(x, x)) != 0 {
			t.Fatalf("%v twice = %v", x, s)
		}
		if x.Cmp(big.NewRat(1<<62, 1)) < 0 { // within an int64
			if got, want := a.round(), round(x); got != want {
				t.Fatalf("%v rounds to %d, want %d", x, got, want)
			}
			p := r.IntN(7)
			text, hides := a.decimal(p)
			back, _ := new(big.Rat).SetString(text)
			if want := x.FloatString(p); text != want || hides != (back.IsInt() && back.Cmp(x) != 0) {
				t.Fatalf("%v to %d places: %q, want %q", x, p, text, want)
			}
		}
	}
	t.Logf("%d in 128 bits, %d grew out of them", stayed, grew)
	if grew == 0 || stayed == 0 {
		t.Error("the draw tries one way only")
	}
}
