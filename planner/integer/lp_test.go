package integer

import "testing"

func TestLP(t *testing.T) {
	p := &Program{}
	x, y := p.Col("x", 0, 4, 3), p.Col("y", -1, 1, 0)
	p.Row("a", 2, Open, Term{x, 1}, Term{y, -2})
	p.Row("b", -1, 5, Term{x, 1}, Term{y, 1})
	p.Row("c", 3, 3, Term{x, 1})
	p.Imply("d", 0, 3, Term{x, 1})
	want := `Minimize
 cost: +3 x
Subject To
 r0lo: +1 x -2 y >= 2
 r1lo: +1 x +1 y >= -1
 r1hi: +1 x +1 y <= 5
 r2: +1 x = 3
Bounds
 0 <= x <= 4
 -1 <= y <= 1
General
 x
 y
End
`
	if got := string(p.LP()); got != want {
		t.Errorf("LP:\n%s\nwant:\n%s", got, want)
	}
}
